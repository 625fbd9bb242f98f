"""The sizing on a job's page: sized again, the whole report, the lead's own figure, the sheet, few queries."""

import re
from io import BytesIO
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from pypdf import PdfReader

from equipment.models import SizingReport
from jobs.models import Chamber, Job, LeadsWord, Room
from tests.dispatch.night import Night
from tests.equipment.sizing.losses import run_of_wall, wet_room

pytestmark = pytest.mark.django_db

QUERIES = 28


@pytest.fixture
def job(night: Night) -> Job:
    job = night.cast.job()
    chamber = Chamber.objects.create(job=job, name="ground floor")
    Room.objects.create(chamber=chamber, name="kitchen", measures=wet_room(wall_runs=[run_of_wall()]))
    return job


@pytest.fixture
def desk(night: Night) -> Client:
    client = Client()
    client.force_login(night.dispatcher)
    return client


def _words(html: bytes) -> str:
    return " ".join(re.sub(r"<[^>]*>", " ", html.decode()).split())


def _size(desk: Client, job: Job) -> None:
    answer = desk.post(f"/desk/jobs/{job.number}/size-again", {"key": str(uuid4())})
    assert answer.status_code == 302


def test_size_again_shows_the_whole_report(desk: Client, job: Job) -> None:
    before = _words(desk.get(f"/desk/jobs/{job.number}").content)

    _size(desk, job)

    assert "Not sized yet" in before
    assert "Size now" in before
    after = _words(desk.get(f"/desk/jobs/{job.number}").content)
    for words in (
        "Class of water 2 worked out; 35.7 % wet",
        "Dehumidification 23 pints/day, rated low-grain dehumidifier",
        "Air movers 4 planned 4 to 4 by the rule",
        "12 outlets",
        "ask which circuits may be used",
        "1152 / 50 = 23.04 pints/day",
        "Cautions (",
        "Size again",
    ):
        assert words in after, words


def test_the_leads_figure_stands_beside_the_suggestion(desk: Client, job: Job) -> None:
    _size(desk, job)
    form = {"key": str(uuid4()), "topic": "air_mover:ground floor", "word": "6", "reason": "open stair"}

    assert desk.post(f"/desk/jobs/{job.number}/leads-word", form).status_code == 302

    kept = LeadsWord.objects.get()
    assert (kept.topic, kept.suggestion, kept.word, kept.reason) == ("air_mover:ground floor", 4, 6, "open stair")
    page = _words(desk.get(f"/desk/jobs/{job.number}").content)
    assert "Air movers, ground floor 4 6 open stair" in page
    assert "Air movers 4 planned" in page
    assert SizingReport.objects.get().report["chambers"][0]["air_movers"]["planned"] == 4


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"reason": " "}, "Say in a few words why."),
        ({"word": "many"}, "A whole number"),
        ({"topic": "ghost"}, "Choose what the figure is about."),
        ({"topic": "class:ground floor", "word": "5"}, "One of 1, 2, 3, 4 is wanted."),
    ],
)
def test_a_word_that_cannot_be_kept_is_said_and_stays_typed(
    desk: Client, job: Job, changes: dict[str, str], says: str
) -> None:
    _size(desk, job)
    form = {"topic": "air_mover:ground floor", "word": "6", "reason": "open stair"} | changes

    answer = desk.post(f"/desk/jobs/{job.number}/leads-word", form | {"key": str(uuid4())})

    assert answer.status_code == 422
    assert says in _words(answer.content)
    assert f'value="{form["word"]}"' in answer.content.decode()
    assert not LeadsWord.objects.exists()


def test_a_job_without_rooms_says_what_to_do(desk: Client, night: Night) -> None:
    answer = desk.post(f"/desk/jobs/{night.cast.job().number}/size-again", {"key": str(uuid4())})

    assert answer.status_code == 422
    assert "Measure one, then size again." in _words(answer.content)


def test_the_sheet_is_a_pdf(desk: Client, job: Job) -> None:
    assert desk.get(f"/desk/jobs/{job.number}/sizing.pdf").status_code == 404
    _size(desk, job)

    answer = desk.get(f"/desk/jobs/{job.number}/sizing.pdf")

    assert answer["Content-Type"] == "application/pdf"
    assert job.number in PdfReader(BytesIO(answer.content)).pages[0].extract_text()


@pytest.mark.parametrize("rooms", [1, 8])
def test_the_page_takes_a_fixed_number_of_queries(
    desk: Client, job: Job, rooms: int, django_assert_num_queries: Any
) -> None:
    chamber = job.chambers.get()
    for number in range(1, rooms):
        Room.objects.create(chamber=chamber, name=f"room {number}", measures=wet_room())
    _size(desk, job)

    with django_assert_num_queries(QUERIES):
        desk.get(f"/desk/jobs/{job.number}")
