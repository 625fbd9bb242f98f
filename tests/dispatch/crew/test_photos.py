"""Photos at a stop: kept with the job, shown on one's own route and nowhere else, whatever they are called."""

from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from pypdf import PdfReader

from dispatch.emergencies import Sent, send
from jobs.models import Photo
from tests.dispatch.crew.test_crew_room import client
from tests.dispatch.night import NIGHT, Night
from tests.jobs.photos.test_pictures import picture


@pytest.fixture(autouse=True)
def at_night(settings: Any, tmp_path: Path) -> Iterator[None]:
    settings.MEDIA_ROOT = tmp_path / "media"
    with time_machine.travel(NIGHT, tick=False):
        yield


@pytest.fixture
def stop(night: Night) -> Sent:
    sent = send(**night.by(night.dispatcher), call_id=night.call(), crew_id=night.empty.pk)
    client(night.empty.lead.user).post(f"/crew/stops/{sent.visit_id}/arrive", {"key": str(uuid4())})
    return sent


def post(who: Client, stop: Sent, data: bytes, name: str = "x.jpg", key: str = "", **typed: str) -> Any:
    fields = {"key": key or str(uuid4()), "photo": SimpleUploadedFile(name, data), **typed}
    return who.post(f"/crew/stops/{stop.visit_id}/photos", fields)


def test_a_photo_is_kept_and_shown_on_the_stop(night: Night, stop: Sent, settings: Any) -> None:
    ben = client(night.empty.lead.user)
    assert post(ben, stop, picture(), "../../etc/passwd.jpg", photo_room="kitchen").status_code == 302
    row = Photo.objects.get()
    assert (row.job_id, row.visit_id, row.room_name, row.taken_at) == (stop.job_id, stop.visit_id, "kitchen", NIGHT)
    files = [path.relative_to(settings.MEDIA_ROOT).as_posix() for path in settings.MEDIA_ROOT.rglob("*.*")]
    assert files == [f"photos/{row.digest[:2]}/{row.digest}.jpg"]
    assert f"/crew/photos/{row.pk}" in ben.get(f"/crew/stops/{stop.visit_id}").content.decode()
    shown = ben.get(f"/crew/photos/{row.pk}")
    assert (shown.status_code, shown["Content-Type"]) == (200, "image/jpeg")
    assert "private" in shown["Cache-Control"]
    assert b"".join(shown.streaming_content).startswith(b"\xff\xd8")


def test_the_desk_and_the_drying_record_show_it(night: Night, stop: Sent) -> None:
    post(client(night.empty.lead.user), stop, picture(), photo_note="wet ceiling")
    desk, photo_id = client(night.dispatcher), Photo.objects.get().pk
    job = f"/desk/jobs/{stop.job_number}"
    assert f"{job}/photos/{photo_id}" in desk.get(job).content.decode()
    assert desk.get(f"{job}/photos/{photo_id}").status_code == 200
    assert desk.get(f"/desk/jobs/{night.cast.job(number='K-9').number}/photos/{photo_id}").status_code == 404
    pages = PdfReader(BytesIO(desk.get(f"{job}/drying-record.pdf").content)).pages
    assert sum(len(page.images) for page in pages) == 1
    assert "wet ceiling" in " ".join(page.extract_text() for page in pages)


def test_sent_again_it_is_the_same_photo(night: Night, stop: Sent) -> None:
    ben, key = client(night.empty.lead.user), str(uuid4())
    assert [post(ben, stop, picture(), key=key).status_code for _ in range(2)] == [302, 302]
    assert Photo.objects.count() == 1


def test_another_crews_photo_cannot_be_reached(night: Night, stop: Sent) -> None:
    post(client(night.empty.lead.user), stop, picture())
    ada, photo_id = client(night.ready.lead.user), Photo.objects.get().pk
    assert ada.get(f"/crew/photos/{photo_id}").status_code == 404
    assert post(ada, stop, picture()).status_code == 404
    assert Client().get(f"/crew/photos/{photo_id}").status_code == 302
    assert Photo.objects.count() == 1


def test_what_is_no_photo_is_refused_beside_its_field(night: Night, stop: Sent) -> None:
    ben = client(night.empty.lead.user)
    for data in (b"", b"%PDF-1.7 and more"):
        page = post(ben, stop, data, photo_note="the ceiling")
        assert page.status_code == 422
        assert 'id="photo-refused"' in page.content.decode()
        assert 'value="the ceiling"' in page.content.decode()
    assert not Photo.objects.exists()
