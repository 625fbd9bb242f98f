"""The drying record: which unit stood where, days by the payer's rule, and nothing that was corrected lost."""

import csv
from datetime import date, timedelta
from io import BytesIO, StringIO
from typing import Any
from uuid import uuid4

import pytest
from pypdf import PdfReader
from rest_framework.test import APIClient

from equipment import custody
from equipment.drying_record import drying_record
from equipment.record_paper import days_csv, equipment_csv, readings_csv, record_pdf
from jobs import drying
from jobs.drying_values import AirValue, MaterialValue
from jobs.leads_word import set_leads_word
from jobs.models import Area, Job, MaterialReading, Payer, PayerRule, Visit
from jobs.refusals import NotThere
from tests.equipment.cast import DAY, HOUR, NIGHT, Cast

pytestmark = pytest.mark.django_db
QUERIES = 15


def rule(job: Job, day_count: str, *, by_room: bool = False) -> None:
    payer = Payer.objects.create(code=f"p{uuid4().hex[:6]}", name="Alder Mutual")
    PayerRule.objects.create(
        payer=payer, day_count=day_count, by_room=by_room, source="agreement", confidence="demo",
        valid_from=date(2025, 1, 1),
    )  # fmt: skip
    job.payer = payer
    job.save()


@pytest.fixture
def job(cast: Cast) -> Job:
    """Two air movers stand 75 and 50 hours; the second is carried from the kitchen to the hall after 30."""
    cast.units("1001", "1002")
    job = cast.job()
    lead = cast.lead

    def place(room: str, after: timedelta, *numbers: str) -> None:
        custody.place_units(
            **cast.by(lead, NIGHT + after), job_id=job.pk, room_name=room, numbers=numbers, vehicle_id=cast.van.pk
        )

    def take_up(after: timedelta, *numbers: str) -> None:
        custody.take_up_units(**cast.by(lead, NIGHT + after), job_id=job.pk, vehicle_id=cast.van.pk, numbers=numbers)

    place("kitchen", HOUR, "1001", "1002")
    place("hall", 31 * HOUR, "1002")
    take_up(51 * HOUR, "1002")
    take_up(76 * HOUR, "1001")
    return job


def test_stays_come_from_the_custody_ledger(cast: Cast, job: Job) -> None:
    stays = drying_record(job.pk, now=NIGHT + 5 * DAY).stays
    hours = [(row.number, row.room_name, (row.begins_at - NIGHT) / HOUR, row.ends_at and (row.ends_at - NIGHT) / HOUR)
             for row in stays]  # fmt: skip
    assert hours == [("1001", "kitchen", 1, 76), ("1002", "kitchen", 1, 31), ("1002", "hall", 31, 51)]


def test_a_unit_that_still_stands_there_has_no_end_and_counts_until_now(cast: Cast, job: Job) -> None:
    record = drying_record(job.pk, now=NIGHT + 40 * HOUR)
    assert [(row.number, row.ends_at is None) for row in record.stays if row.room_name == "hall"] == [("1002", True)]
    # 39 hours each.
    assert [(line.completed_24h, line.started_24h) for line in record.days] == [(2, 4)]


# 75 h is 3 periods completed and 4 begun, 50 h is 2 and 3. From January 15, 11:47 p.m. local time to the 19th,
# 2:47 a.m., and the 18th, 1:47 a.m.: five and four dates.
@pytest.mark.parametrize(("day_count", "charged"), [("completed_24h", 5), ("started_24h", 7), ("calendar_days", 9)])
def test_days_by_the_payers_rule(job: Job, day_count: str, charged: int) -> None:
    rule(job, day_count)
    record = drying_record(job.pk, now=NIGHT + 5 * DAY)
    (line,) = record.days
    assert (line.completed_24h, line.started_24h, line.calendar_days, line.charged) == (5, 7, 9, charged)
    assert line.room_name == ""


def test_days_room_by_room_are_the_same_days(job: Job) -> None:
    rule(job, "started_24h", by_room=True)
    # The second unit's periods begin at 1, 25 (kitchen) and 49 h (hall).
    days = {line.room_name: line.charged for line in drying_record(job.pk, now=NIGHT + 5 * DAY).days}
    assert days == {"kitchen": 6, "hall": 1}


def test_without_a_rule_nothing_is_chosen(job: Job) -> None:
    assert {line.charged for line in drying_record(job.pk, now=NIGHT + 5 * DAY).days} == {None}


@pytest.fixture
def read(cast: Cast, job: Job) -> Job:
    """A point read three days running, the second value corrected; air; the lead's word; a missed visit."""
    by = cast.by(cast.lead)
    drying.add_point(
        **by, job_id=job.pk, room_name="=kitchen", material="drywall", meter="pin 1", scale="relative_0_100",
        dry_standard=12, goal=16,
    )  # fmt: skip
    for day, value in enumerate((60, 44, 30)):
        drying.record_readings(
            **cast.by(cast.lead, NIGHT + day * DAY), job_id=job.pk, visit_id=None,
            materials=(MaterialValue(1, value),), air=(AirValue("inside", 74, 60 - 5 * day, "", ""),),
        )  # fmt: skip
    second = MaterialReading.objects.order_by("taken_at")[1]
    drying.correct_reading(
        **cast.by(cast.lead, NIGHT + 2 * DAY), reading_id=second.pk, kind="material", value=40,
        reason="read the wrong pin",
    )  # fmt: skip
    set_leads_word(
        **cast.by(cast.dispatcher), job_id=job.pk, topic="air_mover:ground floor", word=6, reason="long hall",
        suggestion=4,
    )  # fmt: skip
    Visit.objects.create(
        job=job, kind="monitoring", state="missed", due_on=date(2026, 1, 17), service_s=60, reason="locked gate"
    )
    return job


def test_the_paper_holds_all_of_it_and_prints_the_same_bytes(read: Job) -> None:
    record = drying_record(read.pk, now=NIGHT + 5 * DAY)
    made = record_pdf(record)
    text = "\n".join(page.extract_text() for page in PdfReader(BytesIO(made.pdf)).pages)
    for said in (read.number, "1002", "hall", "read the wrong pin", "44 is 40", "long hall", "locked gate",
                 "Started 24 h", "grains per pound", "goal 16"):  # fmt: skip
        assert said in text, said
    assert record_pdf(record).pdf == made.pdf


def test_the_tables_can_be_read_back_and_hold_no_formula(read: Job) -> None:
    record = drying_record(read.pk, now=NIGHT + 5 * DAY)
    readings = list(csv.DictReader(StringIO(readings_csv(record))))
    assert [row["value"] for row in readings if row["what"] == "material"] == ["60", "40", "30"]
    assert [row["before_correction"] for row in readings if row["value"] == "40"] == ["44"]
    assert {row["where"] for row in readings if row["what"] == "material"} == {"'=kitchen"}
    assert readings[0]["taken_at"] == "2026-01-15T22:47-08:00"
    stood = list(csv.DictReader(StringIO(equipment_csv(record))))
    assert [(row["unit"], row["room"]) for row in stood] == [("1001", "kitchen"), ("1002", "kitchen"), ("1002", "hall")]
    assert [row["started_24h"] for row in csv.DictReader(StringIO(days_csv(record)))] == ["7"]


def test_the_record_takes_a_fixed_number_of_queries(read: Job, django_assert_num_queries: Any) -> None:
    rule(read, "started_24h")
    with django_assert_num_queries(QUERIES):
        drying_record(read.pk, now=NIGHT + 5 * DAY)


def test_the_api_answers_whose_job_it_is(cast: Cast, read: Job) -> None:
    api = APIClient()
    api.force_authenticate(cast.dispatcher)
    answer = api.get(f"/api/v1/jobs/{read.pk}/drying-record")
    assert answer.status_code == 200
    assert len(answer.json()["stays"]) == 3
    assert api.get(f"/api/v1/jobs/{read.pk}/drying-record.pdf").content.startswith(b"%PDF")
    for name in ("readings", "equipment", "equipment-days"):
        assert api.get(f"/api/v1/jobs/{read.pk}/{name}.csv")["Content-Type"].startswith("text/csv")
    elsewhere = cast.job(area=Area.objects.create(code="coast", name="Coast"))
    for name in ("drying-record", "drying-record.pdf", "readings.csv", "equipment.csv", "equipment-days.csv"):
        assert api.get(f"/api/v1/jobs/{elsewhere.pk}/{name}").json()["code"] == "other_area"


def test_no_such_job() -> None:
    with pytest.raises(NotThere):
        drying_record(999_999, now=NIGHT)
