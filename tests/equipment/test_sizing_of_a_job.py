"""Sizing a job as it is now: what is kept, what is shown with its working, what the lead says, and the sheet."""

from io import BytesIO
from typing import Any
from uuid import uuid4

import pytest
from pypdf import PdfReader
from rest_framework.test import APIClient

from equipment.models import SizingReport
from equipment.sizing.port import size_document
from equipment.sizing.report_reading import report_of
from equipment.sizing_paper import paper_of
from equipment.sizing_places import place_in_words, unit_of
from equipment.sizing_reports import NothingToSize, newest_report, size_job
from equipment.sizing_view import sizing_view
from jobs.leads_word import set_leads_word
from jobs.models import Area, Chamber, Job, Room
from tests.equipment.cast import HOUR, NIGHT, Cast
from tests.equipment.sizing.losses import wet_room
from tests.equipment.sizing.test_report import rich

pytestmark = pytest.mark.django_db


@pytest.fixture
def job(cast: Cast) -> Job:
    """A wet kitchen of 12 x 12 ft with two low-grain machines and twelve air movers free."""
    cast.dehumidifier.rated_pints_per_day = 130
    cast.dehumidifier.save()
    cast.units(*(f"1{n:03}" for n in range(12)))
    cast.units("1900", "1901", model=cast.dehumidifier)
    job = cast.job()
    chamber = Chamber.objects.create(job=job, name="ground floor")
    Room.objects.create(chamber=chamber, name="kitchen", measures=wet_room())
    return job


def test_a_job_is_sized_against_what_the_area_has(cast: Cast, job: Job) -> None:
    made = size_job(**cast.by(cast.dispatcher), job_id=job.pk)

    assert [(row["model"], row["count"]) for row in made.report["mix"]] == [("LGR", 1), ("AM", 4)]
    assert made.report["short"] == []
    kept = newest_report(job.pk)
    assert kept is not None
    assert (kept.sizing_id, kept.report) == (made.sizing_id, made.report)


def test_the_same_key_sizes_once_also_an_hour_later(cast: Cast, job: Job) -> None:
    job.began_at = NIGHT - HOUR
    job.save()
    key = uuid4()
    first = size_job(**cast.by(cast.dispatcher, key=key), job_id=job.pk)

    again = size_job(**cast.by(cast.dispatcher, NIGHT + HOUR, key=key), job_id=job.pk)

    assert again == first
    assert SizingReport.objects.count() == 1


def test_a_job_without_rooms_is_refused(cast: Cast) -> None:
    with pytest.raises(NothingToSize):
        size_job(**cast.by(cast.dispatcher), job_id=cast.job().pk)


def test_the_leads_class_is_what_the_next_sizing_reads(cast: Cast, job: Job) -> None:
    first = size_job(**cast.by(cast.dispatcher), job_id=job.pk).report["chambers"][0]
    set_leads_word(
        **cast.by(cast.lead), job_id=job.pk, topic="class:ground floor", word=3, reason="ceiling wet", suggestion=2
    )

    second = size_job(**cast.by(cast.dispatcher), job_id=job.pk).report["chambers"][0]

    assert (first["class"], first["class_from"]) == (2, "worked out")
    assert (second["class"], second["class_from"]) == (3, "set")
    assert SizingReport.objects.count() == 2


def test_a_report_is_read_back_as_it_was_written() -> None:
    report = size_document(rich())

    assert report_of(report.as_document()).as_document() == report.as_document()


def test_every_figure_of_the_report_is_shown_with_its_sum() -> None:
    report = size_document(rich())

    view = sizing_view(report)

    shown = {row.what for row in view.working}
    assert len(shown) == len(view.working) == len(report.working)
    assert all(row.sum and row.source for row in view.working)
    assert [figure.what for figure in view.chambers[0].figures] == [
        "Class of water", "Volume", "Air", "Dehumidification", "Air movers", "Time to dry",
    ]  # fmt: skip
    assert [figure.figure for figure in view.chambers[1].rooms] == ["4 air movers"]


@pytest.mark.parametrize(
    ("where", "words", "unit"),
    [
        ("chambers[0].rooms[0].air_movers.low", "ground floor, kitchen: air movers, low", "air movers"),
        ("chambers[1].dehumidification.process_cfm", "cellar: process air", "cfm"),
        ("chambers[0].air.dew_point_f", "ground floor: dew point", "°F"),
        ("mix[1].count", "mover: count", "units"),
        ("power.circuits[0].limit_a", "power, circuit 1, limit", "A"),
        ("power.circuits[0].units.low-grain", "power, circuit 1, low-grain", "units"),
    ],
)
def test_places_are_told_in_words(where: str, words: str, unit: str) -> None:
    assert (place_in_words(where, size_document(rich())), unit_of(where)) == (words, unit)


def test_the_sheet_shows_the_leads_word_beside_the_suggestion(cast: Cast, job: Job) -> None:
    size_job(**cast.by(cast.dispatcher), job_id=job.pk)
    set_leads_word(
        **cast.by(cast.lead), job_id=job.pk, topic="air_mover:ground floor", word=7, reason="long hall", suggestion=4
    )

    first, second = paper_of(job.pk), paper_of(job.pk)

    text = " ".join(page.extract_text() for page in PdfReader(BytesIO(first.pdf)).pages)
    words = " ".join(text.split())
    assert "Air movers, ground floor 4 7 long hall" in words
    assert "4 planned" in words
    assert first == second
    assert first.file_name == f"sizing-{job.number}.pdf"


def test_the_api_sizes_reads_and_prints(cast: Cast, job: Job) -> None:
    client = APIClient()
    client.force_authenticate(cast.dispatcher)
    path = f"/api/v1/jobs/{job.pk}/sizing"
    assert (client.get(path).status_code, client.get(path).json()["code"]) == (404, "not_sized_yet")
    assert client.get(f"{path}.pdf").status_code == 404

    made = client.post(path, {}, format="json", headers={"Idempotency-Key": str(uuid4())})

    assert made.status_code == 201, made.data
    assert client.get(path).json()["report"] == made.json()["report"] == size_document(_loss(job)).as_document()
    printed = client.get(f"{path}.pdf", headers={"Accept": "application/pdf"})
    assert printed["Content-Type"] == "application/pdf"
    assert PdfReader(BytesIO(printed.content)).pages


def test_the_api_knows_whose_job_it_is(cast: Cast, job: Job) -> None:
    other = cast.job(area=Area.objects.create(code="coast", name="Coast"))
    client = APIClient()
    client.force_authenticate(cast.dispatcher)
    key = {"Idempotency-Key": str(uuid4())}

    assert client.get(f"/api/v1/jobs/{other.pk}/sizing").json()["code"] == "other_area"
    assert client.post(f"/api/v1/jobs/{other.pk}/sizing", {}, format="json", headers=key).status_code == 403
    assert client.get(f"/api/v1/jobs/{other.pk}/sizing.pdf").status_code == 403
    client.force_authenticate(cast.lead)
    assert client.post(f"/api/v1/jobs/{job.pk}/sizing", {}, format="json", headers=key).status_code == 403


def _loss(job: Job) -> dict[str, Any]:
    kept = newest_report(job.pk)
    assert kept is not None
    return kept.loss
