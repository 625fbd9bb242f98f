"""Promise clocks begin and end inside the use cases that cause them, each with one end."""

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any
from uuid import uuid4
from zoneinfo import ZoneInfo

import pytest
from django.contrib.auth.models import User
from django.db import DatabaseError, transaction

from jobs import clock_board, clocks, intake, opening, stops, visits
from jobs.models import Area, Call, Job, Payer, PayerRule, Promise, PromiseEnd, Visit
from tests.jobs.conftest import NIGHT, later

PACIFIC = ZoneInfo("America/Los_Angeles")


def ends(**about: Any) -> list[str]:
    return list(PromiseEnd.objects.filter(**about).order_by("pk").values_list("end", flat=True))


def by(who: User, minutes: float) -> dict[str, Any]:
    return {"key": uuid4(), "actor": who, "now": later(minutes)}


@pytest.fixture
def insured(job: Job) -> Job:
    payer = Payer.objects.create(code="heron", name="Heron Slough Mutual")
    PayerRule.objects.create(
        payer=payer, contact_minutes=60, arrival_minutes=240, report_hours=24, visit_hours=26,
        source="demo", confidence="demo", valid_from=date(2025, 1, 1),
    )  # fmt: skip
    job.payer = payer
    job.save(update_fields=["payer"])
    return job


def test_a_caller_who_waits_has_a_clock_an_owner_and_the_next_one_after_each_contact(
    call_id: int, dispatcher: User, manager: User, area: Area
) -> None:
    (line,) = clock_board.running_clocks(area_id=area.pk, zone=PACIFIC, now=later(1)).lines
    assert (line.left, line.owner) == ("14 min left", dispatcher.get_full_name())
    clocks.meet_promise(**by(manager, 10), promise_id=line.promise_id, next_contact_at=later(90))
    (line,) = clock_board.running_clocks(area_id=area.pk, zone=PACIFIC, now=later(91)).lines
    assert (line.left, line.owner) == ("late by 1 min", manager.get_full_name())
    assert Call.objects.get(pk=call_id).next_contact_at == later(90)
    clocks.meet_promise(**by(manager, 92), promise_id=line.promise_id)
    assert ends() == ["kept", "broken"]
    assert Call.objects.get(pk=call_id).next_contact_at == later(107)
    intake.end_call(**by(dispatcher, 95), call_id=call_id, ended_as="no_crew", reason="a plumber comes")
    assert ends() == ["kept", "broken", "kept"]
    assert clock_board.running_clocks(area_id=area.pk, zone=PACIFIC, now=later(95)).lines == ()


def test_a_clock_has_one_end_and_the_database_says_so(call_id: int, dispatcher: User) -> None:
    promise = Promise.objects.get()
    clocks.meet_promise(**by(dispatcher, 5), promise_id=promise.pk)
    with pytest.raises(clocks.PromiseOver):
        clocks.agree_another_time(**by(dispatcher, 6), promise_id=promise.pk, new_due_at=later(60), with_whom="Marisol")
    with pytest.raises(DatabaseError), transaction.atomic():
        clocks.end(promise, happened_at=later(7), actor=dispatcher, now=later(7), why="twice")
    with pytest.raises(DatabaseError), transaction.atomic():
        PromiseEnd.objects.update(end="broken")


def test_another_time_is_agreed_with_a_name_in_time_and_counts_as_broken_when_late(
    job: Job, dispatcher: User, lead: User
) -> None:
    added = visits.add_visit(
        **by(dispatcher, 10), job_id=job.pk, kind="emergency", due_on=NIGHT.date(), due_at=later(120)
    )
    first = Promise.objects.get(visit_id=added.visit_id)
    with pytest.raises(clocks.AgreementNeedsName):
        clocks.agree_another_time(**by(dispatcher, 20), promise_id=first.pk, new_due_at=later(600), with_whom=" ")
    agreed = clocks.agree_another_time(
        **by(dispatcher, 20), promise_id=first.pk, new_due_at=later(600), with_whom="Marisol"
    )
    assert (agreed.end, agreed.next_due_at) == ("agreed_later", later(600))
    assert agreed.next_id is not None
    visit = Visit.objects.get(pk=added.visit_id)
    assert (visit.due_at, visit.due_on) == (later(600), later(600).astimezone(PACIFIC).date())
    second = clocks.agree_another_time(
        **by(dispatcher, 700), promise_id=agreed.next_id, new_due_at=later(900), with_whom="Marisol"
    )
    assert second.end == "broken"
    stops.arrive_at_stop(**by(lead, 890), visit_id=visit.pk)
    assert ends(promise__visit=visit) == ["agreed_later", "broken", "kept"]
    assert [past.with_whom for past in clock_board.past_clocks(job.pk)] == ["Marisol", "Marisol", ""]


def test_a_payers_clocks_follow_one_another_from_arrival_to_report(insured: Job, dispatcher: User, lead: User) -> None:
    added = visits.add_visit(
        **by(dispatcher, 10), job_id=insured.pk, kind="emergency", due_on=NIGHT.date(), due_at=later(240)
    )
    arrival = Promise.objects.get(visit_id=added.visit_id)
    assert arrival.basis == "Heron Slough Mutual: on site within 240 min"
    with pytest.raises(clocks.PromiseOfVisit):
        clocks.meet_promise(**by(dispatcher, 11), promise_id=arrival.pk)
    # Recorded without network: it happened in time and arrived late.
    stops.arrive_at_stop(**by(lead, 400), visit_id=added.visit_id, happened_at=later(240))
    assert ends(promise=arrival) == ["kept"]
    stops.finish_stop(**by(lead, 420), visit_id=added.visit_id)
    report = Promise.objects.get(kind="report")
    assert report.due_at == later(420 + 24 * 60)
    daily = Promise.objects.get(kind="daily_visit")
    assert daily.due_at == later(240 + 26 * 60)
    clocks.meet_promise(**by(dispatcher, 421 + 24 * 60), promise_id=report.pk)
    assert ends(promise=report) == ["broken"]


def test_an_adjusters_call_starts_the_payers_clock_for_the_first_contact(
    enough: int, answer: Callable[..., intake.FieldSaved], dispatcher: User
) -> None:
    payer = Payer.objects.create(code="heron", name="Heron Slough Mutual")
    PayerRule.objects.create(
        payer=payer, contact_minutes=60, source="demo", confidence="demo", valid_from=date(2025, 1, 1)
    )
    answer("payer", "heron")
    answer("caller_role", "adjuster")
    opening.open_job(call_id=enough, actor=dispatcher, now=later(5))
    intake.end_call(**by(dispatcher, 6), call_id=enough, ended_as="sent")
    contact = clocks.running(Promise.objects.all()).get()
    assert (contact.kind, contact.due_at) == ("contact", later(60))
    assert clocks.meet_promise(**by(dispatcher, 30), promise_id=contact.pk).end == "kept"


@pytest.mark.parametrize(("minutes", "expected"), [(30, "agreed_later"), (60 * 24 * 3, "broken")])
def test_a_missed_visit_is_agreed_later_only_while_there_was_time(
    job: Job, dispatcher: User, minutes: int, expected: str
) -> None:
    added = visits.add_visit(**by(dispatcher, 0), job_id=job.pk, kind="monitoring", due_on=NIGHT.date())
    new_time = later(minutes) + timedelta(days=1)
    visits.miss_visit(
        **by(dispatcher, minutes), visit_id=added.visit_id, reason="gate", told="the tenant", new_time=new_time
    )
    assert ends(promise__visit_id=added.visit_id) == [expected]
    assert clocks.running(Promise.objects.filter(job=job)).get().due_at == new_time
