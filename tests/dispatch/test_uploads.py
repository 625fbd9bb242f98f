"""What is no photo and no signature is refused cleanly, by page and by API; no name has a part in a path."""

import json
import struct
import zlib
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from dispatch.emergencies import Sent, send
from dispatch.imports.company import import_company
from jobs.areas import OtherArea
from jobs.models import Photo, Signature
from jobs.photos import pictures
from tests.dispatch.night import NIGHT, Night
from tests.jobs.photos.test_pictures import picture

NAMES = ("../../etc/passwd", "..\\..\\boot.ini", "/etc/shadow.jpg", "x" * 300 + ".jpg", "a\r\nb.jpg", "%2e%2e%2fx.jpg")


@pytest.fixture(autouse=True)
def at_night(settings: Any, tmp_path: Path) -> Iterator[None]:
    settings.MEDIA_ROOT = tmp_path / "media"
    with time_machine.travel(NIGHT, tick=False):
        yield


@pytest.fixture
def stop(night: Night) -> Sent:
    return send(**night.by(night.dispatcher), call_id=night.call(), crew_id=night.ready.pk)


@pytest.fixture
def ada(night: Night) -> Client:
    return signed_in(night.ready.lead.user)


def signed_in(user: Any) -> Client:
    client = Client()
    client.force_login(user)
    return client


def bomb(side: int = 60_000) -> bytes:
    """A PNG of a few hundred bytes that claims billions of points."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    header = struct.pack(">IIBBBBB", side, side, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(b"\0" * 99)) + chunk(b"IEND", b"")
    )


def by_page(client: Client, stop: Sent, data: bytes, name: str) -> Any:
    sent = {"key": str(uuid4()), "photo": SimpleUploadedFile(name, data)}
    return client.post(f"/crew/stops/{stop.visit_id}/photos", sent)


def by_api(client: Client, stop: Sent, data: bytes, name: str) -> Any:
    sent = {"photo": SimpleUploadedFile(name, data)}
    return client.post(f"/api/v1/stops/{stop.visit_id}/photos", sent, headers={"Idempotency-Key": str(uuid4())})


@pytest.mark.parametrize("way", [by_page, by_api])
def test_what_is_no_photo_is_refused_by_either_way(way: Any, ada: Client, stop: Sent, settings: Any) -> None:
    for data in (b"%PDF-1.7 and more", b"<svg onload='alert(1)'/>", b"GIF89a" + b"\0" * 40, picture()[:90], bomb()):
        assert way(ada, stop, data, "photo.jpg").status_code == 422, data[:20]
    assert not Photo.objects.exists()
    assert not settings.MEDIA_ROOT.exists()


def test_twenty_six_megabytes_are_no_photo(ada: Client, stop: Sent, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pictures, "MOST_BYTES", 5_000)
    for way in (by_page, by_api):
        assert way(ada, stop, b"x" * 6_000, "photo.jpg").status_code == 422
    fifty = {"CONTENT_LENGTH": str(50 * 2**20), "wsgi.input": BytesIO(b"")}
    for address in (f"/crew/stops/{stop.visit_id}/photos", f"/api/v1/stops/{stop.visit_id}/photos"):
        assert ada.post(address, content_type="multipart/form-data; boundary=x", **fifty).status_code == 413


@pytest.mark.parametrize("way", [by_page, by_api])
def test_no_name_has_a_part_in_the_path(way: Any, ada: Client, stop: Sent, settings: Any) -> None:
    for name in NAMES:
        assert way(ada, stop, picture(), name).status_code in {201, 302, 400}, name
    kept = Photo.objects.first()
    assert kept
    files = {
        path.relative_to(settings.MEDIA_ROOT).as_posix() for path in settings.MEDIA_ROOT.rglob("*") if path.is_file()
    }
    assert files == {f"photos/{kept.digest[:2]}/{kept.digest}.jpg"}


def test_a_photo_goes_and_comes_by_api_as_by_page(night: Night, ada: Client, stop: Sent) -> None:
    key = {"Idempotency-Key": str(uuid4())}
    address = f"/api/v1/stops/{stop.visit_id}/photos"
    sent = [
        ada.post(address, {"photo": SimpleUploadedFile("x", picture()), "room_name": "kitchen"}, headers=key)
        for _ in range(2)
    ]
    assert [answer.status_code for answer in sent] == [201, 201]
    assert sent[0].json() == sent[1].json()
    photo_id = sent[0].json()["photo_id"]
    assert [row["room_name"] for row in ada.get(address).json()] == ["kitchen"]
    desk = signed_in(night.dispatcher)
    assert desk.get(f"/api/v1/jobs/{stop.job_id}/photos").json()[0]["photo_id"] == photo_id
    for client in (ada, desk):
        shown = client.get(f"/api/v1/photos/{photo_id}", headers={"Accept": "image/jpeg"})
        assert (shown.status_code, shown["Content-Type"]) == (200, "image/jpeg")
    ben, keeper = signed_in(night.empty.lead.user), signed_in(night.cast.keeper)
    assert ben.get(f"/api/v1/photos/{photo_id}").status_code == 404
    assert keeper.get(f"/api/v1/photos/{photo_id}").status_code == 403
    assert ben.post(address, {"photo": SimpleUploadedFile("x", picture())}, headers=key).status_code == 404


@pytest.mark.parametrize(
    "drawing",
    ["<svg/>", "M1 1L" + "9" * 60, "M 1 1 " * 40_000, "M1 1 L2 2 url(javascript:1)", "data:image/png;base64,AA"],
)
def test_what_is_no_drawing_is_no_signature(ada: Client, stop: Sent, drawing: str) -> None:
    body = {"what": "authorization", "role": "owner", "name": "", "drawing": drawing}
    answer = ada.post(
        f"/api/v1/stops/{stop.visit_id}/signatures",
        json.dumps(body),
        content_type="application/json",
        headers={"Idempotency-Key": str(uuid4())},
    )
    assert 400 <= answer.status_code < 500
    assert not Signature.objects.exists()


def test_a_companys_lists_are_imported_by_a_manager_of_all_areas(night: Night) -> None:
    assert night.cast.manager.memberships.filter(area=None).count() == 0
    with pytest.raises(OtherArea, match="all areas"):
        import_company(key=uuid4(), actor=night.cast.manager, now=NIGHT, sheets=())
