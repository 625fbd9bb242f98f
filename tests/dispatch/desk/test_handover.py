"""The hand-over sheet lists everything open and nothing closed, says what to do first, and prints."""

from datetime import timedelta
from typing import Any

import time_machine
from django.contrib.auth.models import User
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from dispatch import callouts, emergencies
from dispatch.desk.handover_first import first_of
from dispatch.desk.handover_pages import HandoverSheet, handover_sheet
from dispatch.models import CallOut, WorkSpell
from equipment import alarms
from equipment.models import Alarm, Discrepancy, Unit
from jobs import clocks, intake, urgency_words
from jobs.clock_board import ClockLine
from jobs.models import Job, Promise, UrgencyWord
from jobs.visits import miss_visit
from tests.dispatch.night import NIGHT, Night

QUERIES = 31


def sheet_of(night: Night, now: Any = NIGHT) -> HandoverSheet:
    return handover_sheet(area=night.cast.area, now=now)


def _ahead(page: HandoverSheet) -> list[ClockLine]:
    return [line for job in page.jobs for line in job.promises]


def sent(night: Night) -> emergencies.Sent:
    return emergencies.send(
        **night.by(night.dispatcher), call_id=night.call(), crew_id=night.ready.pk, because="nearest"
    )


def test_everything_open_is_on_it_and_what_closes_leaves_it(night: Night, client: Client) -> None:
    done, waiting = sent(night), night.call(town="Camas", street="9 Sorrel Way")
    cast = night.cast
    cast.units("3001")
    Discrepancy.objects.create(unit=Unit.objects.get(number="3001"), said="North", found="Van 1", opened_at=NIGHT)
    alarms.raise_alarm(
        kind="custody", text="Somebody look at the gate.", area_id=cast.area.pk, actor=cast.keeper, now=NIGHT
    )
    WorkSpell.objects.create(person=night.ready.lead, starts_at=NIGHT - timedelta(hours=14))

    late = NIGHT + timedelta(minutes=40)
    page = sheet_of(night, late)
    assert [call.call_id for call in page.callers] == [waiting]
    assert page.callers[0].phone == "360-555-0199"
    assert page.callers[0].late
    clocks_shown = {line.promise_id for line in (*page.soon.lines, *page.later.lines, *_ahead(page))}
    assert clocks_shown == set(Promise.objects.filter(end__isnull=True).values_list("pk", flat=True))
    assert [ask.job_number for ask in page.asks] == [done.job_number]
    assert {crew.name for crew in page.crews} == {"N1", "N2", "N3"}
    assert [(line.name, line.working, round(line.hours)) for line in page.rest] == [("Ada", True, 15)]
    assert [row.number for row in page.doubt] == ["3001"]
    assert [alarm.text for alarm in page.alarms] == ["Somebody look at the gate."]
    assert ("N1 sent", "nearest") in {(one.what, one.why) for one in page.decided}
    assert {job.number for job in page.jobs} == set(Job.objects.values_list("number", flat=True))
    assert page.first[0].part == "callers"
    assert done.job_number in " ".join(line.what for line in page.first)

    by = night.by(night.dispatcher, late)
    intake.end_call(**by, call_id=waiting, ended_as="no_crew", reason="a plumber first")
    callouts.answer_call_out(
        **night.by(night.dispatcher, late),
        call_out_id=done.call_out_id,
        answer="leaving",
        person_id=night.ready.lead_id,
    )
    Alarm.objects.update(settled_at=late, settled_by=cast.keeper)
    Discrepancy.objects.update(settled_at=late)
    Job.objects.exclude(number=done.job_number).update(stage=Job.Stage.CLOSED, closed_at=late)
    page = sheet_of(night, late)
    assert (page.callers, page.asks, page.doubt, page.alarms) == ((), (), (), ())
    assert [job.number for job in page.jobs] == [done.job_number]
    assert {one.job_number for one in page.decided} <= {done.job_number}


def test_what_was_decided_is_told_with_its_reason_and_its_name(night: Night) -> None:
    cast = night.cast
    manager: User = cast.manager
    call_id = night.call()
    urgency_words.set_urgency(**night.by(manager), call_id=call_id, level="Go now", reason="newborn in the house")
    clock = Promise.objects.get(call_id=call_id, end__isnull=True)
    clocks.agree_another_time(
        **night.by(night.dispatcher),
        promise_id=clock.pk,
        new_due_at=NIGHT + timedelta(hours=2),
        with_whom="Ms. Tarnwick",
    )
    visit = night.visit(cast.job())
    miss_visit(
        **night.by(night.dispatcher),
        visit_id=visit.pk,
        reason="road closed",
        told="owner",
        new_time=NIGHT + timedelta(days=2),
    )
    told = {(one.what.split(" instead")[0], one.why) for one in sheet_of(night).decided}
    assert ("Go now", "newborn in the house") in told
    assert ("monitoring missed", "road closed; told: owner") in told
    assert any(why == "with Ms. Tarnwick" for _, why in told)
    assert all(one.by for one in sheet_of(night).decided)
    assert UrgencyWord.objects.count() == 1
    assert sheet_of(night, NIGHT + timedelta(hours=15)).decided == ()


def test_page_paper_api_and_queries_that_do_not_grow(night: Night, client: Client) -> None:
    emergencies.send(**night.by(night.dispatcher), call_id=night.call(), crew_id=night.empty.pk)
    with CaptureQueriesContext(connection) as few:
        sheet_of(night)
    sent(night)
    for _ in range(3):
        night.call(street="9 Sorrel Way")
    CallOut.objects.update(state=CallOut.State.EXHAUSTED)
    with CaptureQueriesContext(connection) as many:
        sheet_of(night)
    assert len(many) == len(few) == QUERIES
    client.force_login(night.dispatcher)
    with time_machine.travel(NIGHT, tick=False):
        page = client.get("/desk/handover").content.decode()
        paper = client.get("/desk/handover.pdf")
        told = client.get(f"/api/v1/areas/{night.cast.area.code}/handover").json()
    assert "Waiting callers: 3" in page
    assert paper["Content-Type"] == "application/pdf"
    assert paper.content.startswith(b"%PDF")
    assert [job["number"] for job in told["jobs"]] == [job.number for job in sheet_of(night).jobs]
    client.force_login(night.cast.keeper)
    assert client.get("/desk/handover").status_code == 403
    assert client.get(f"/api/v1/areas/{night.cast.area.code}/handover").status_code == 403


def test_nothing_to_do_first_says_nothing() -> None:
    empty: dict[str, Any] = dict.fromkeys(
        ("callers", "late", "asked", "alarms", "due", "tired", "loads", "unplanned"), ()
    )
    assert first_of(**empty, doubt=0) == ()
    assert "and 2 more" in first_of(**{**empty, "due": tuple("abcdef")}, doubt=0)[0].what
