"""Each measure against a month worked by hand; the arithmetic stands beside each figure."""

from datetime import date, timedelta

import pytest

from dispatch.measures.definitions import MEASURES, measure_of
from dispatch.measures.reduce import Figure, figure
from dispatch.models import CallOut
from equipment import places
from equipment.models import Condition, LoadLine, LoadList, Move
from jobs.models import Call, Payer, PayerRule, Promise, PromiseEnd, Visit
from tests.dispatch.measures.month import Month, at
from tests.dispatch.night import Night

END, KIND = PromiseEnd.End, Promise.Kind
MINUTE = timedelta(minutes=1)


@pytest.fixture
def month(night: Night) -> Month:
    return Month(night)


def worked(month: Month, code: str) -> Figure:
    measure = measure_of(code)
    return figure(measure.kind, measure.cases(month.span), open_counts=measure.open_counts)


def groups(month: Month, code: str) -> dict[str, float]:
    found: dict[str, float] = {}
    for case in measure_of(code).cases(month.span):
        found[case.group] = found.get(case.group, 0.0) + case.part
    return found


def test_a_month_without_anything_has_no_figure(month: Month) -> None:
    for measure in MEASURES:
        if not measure.now_only:
            assert worked(month, measure.code).part == 0, measure.code


def test_call_back_counts_those_whom_nobody_phoned(month: Month) -> None:
    phoned = month.call(at(2, 3))
    month.promise(KIND.CONTACT, at(2, 3.25), END.AGREED_LATER, at(2, 3.1), call=phoned)
    month.promise(KIND.CONTACT, at(2, 4), END.KEPT, at(2, 3.5), call=phoned)
    month.call(at(3, 3), ended_at=at(3, 3.2), ended_as=Call.EndedAs.NO_CREW, end_reason="tripped breaker")
    month.call(at(19, 5))  # nobody has phoned: March 19, 05:00 to March 20, 05:00
    month.call(at(1, -1))  # February's last hour
    # 30, 12 and 1,440 minutes.
    assert worked(month, "call_to_call_back") == Figure(30.0, 1440.0, 3, 1, 1482.0, 3.0)
    assert groups(month, "call_to_call_back") == {"03:00": 42.0, "05:00": 1440.0}


def test_the_tries_that_failed_are_part_of_getting_a_yes(month: Month) -> None:
    job = month.job()
    visit = month.visit(job, date(2026, 3, 5), kind=Visit.Kind.EMERGENCY)
    month.called_out(visit, at(5, 2), None, CallOut.State.EXHAUSTED)
    month.called_out(visit, at(5, 2.5), at(5, 2.6), CallOut.State.ACCEPTED)
    quick = month.visit(month.job(), date(2026, 3, 6), kind=Visit.Kind.FIRST)
    month.called_out(quick, at(6, 2), at(6, 2.05), CallOut.State.ACCEPTED)
    # 36 minutes with the failed try, 3 without one.
    assert groups(month, "call_to_acknowledged") == pytest.approx({"another crew was asked": 36, "first crew asked": 3})
    assert worked(month, "call_to_acknowledged").value == pytest.approx(19.5)


def test_on_site_counts_from_the_first_ring_and_by_the_payers_rule(month: Month) -> None:
    payer = Payer.objects.create(code="p", name="Plateau Mutual", kind="insurer")
    PayerRule.objects.create(
        payer=payer, source="test", confidence="demo", valid_from=date(2026, 1, 1), arrival_minutes=120
    )
    good, late, agreed, waiting = (month.job(payer=payer) for _ in range(4))
    for job, rang, came in ((good, at(2, 1), at(2, 2.5)), (late, at(3, 1), at(3, 4)), (agreed, at(4, 1), at(4, 9))):
        month.call(rang, job)
        month.visit(job, date(2026, 3, 4), kind=Visit.Kind.EMERGENCY, arrived_at=came)
    month.call(at(2, 1.5), good)  # a neighbor rang half an hour later about the same loss
    month.promise(KIND.ARRIVAL, at(4, 3), END.AGREED_LATER, at(4, 2), job=agreed)
    month.call(at(20, 2), waiting)  # three hours before now, nobody is there
    # 90, 180, 480 and 180 so far.
    assert worked(month, "call_to_on_site") == Figure(180.0, 480.0, 4, 1, 930.0, 4.0)
    assert groups(month, "call_to_on_site") == {"as first promised": 450.0, "a later time was agreed": 480.0}
    # Of the good one, the late one and the one who waits past 120 minutes: one.
    assert worked(month, "on_site_by_rule").value == pytest.approx(100 / 3)


def test_a_promise_left_open_past_due_is_not_kept(month: Month) -> None:
    job = month.job()
    month.promise(KIND.ARRIVAL, at(2, 5), END.KEPT, at(2, 4), job=job)
    month.promise(KIND.ARRIVAL, at(3, 5), END.BROKEN, at(3, 6), job=job)
    month.promise(KIND.REPORT, at(4, 5), job=job)  # past due, open
    month.promise(KIND.REPORT, at(25, 5), job=job)  # not due yet
    month.promise(KIND.ARRIVAL, at(5, 5), END.AGREED_LATER, at(5, 4), job=job)
    assert worked(month, "promises_kept") == Figure(pytest.approx(100 / 3), None, 3, 1, 1.0, 3.0)


def test_days_to_dry_idle_days_and_use(month: Month) -> None:
    job, warehouse = month.job(), month.warehouse()
    unit, other = month.unit("0001"), month.unit("0002")
    holder = places.holder_for_job(job.pk)
    for one in (unit, other):
        month.move(one, warehouse, at(1, -24), Move.Why.OPENING)
        month.move(one, holder, at(10), room_name="kitchen", hour_meter=100.0)
    wrong = month.move(unit, warehouse, at(11), Move.Why.TAKEN_UP)
    month.move(unit, warehouse, at(14), Move.Why.CORRECTION, corrects=wrong, hour_meter=180.0)
    month.point(job, "kitchen", (at(11), 20.0), (at(12), 11.0))
    month.point(job, "hall", (at(11), 20.0), (at(13), 12.0))
    # First placed on the 10th, the last point at its goal on the 13th.
    assert worked(month, "days_to_dry").value == pytest.approx(3.0)
    # The kitchen was dry on the 12th: one unit stood until the 14th, the other until now, the 20th at 05:00.
    assert worked(month, "idle_at_jobs").value == pytest.approx(2 + 8 + 5 / 24)
    # Ours from the 1st to the 20th at 05:00, an hour short for the clock change of the 8th.
    owned = 2 * (19 + 5 / 24 - 1 / 24)
    used = 4 + 10 + 5 / 24
    heaters = [case for case in measure_of("utilization_by_count").cases(month.span) if case.group == "heater"]
    assert [(case.part, case.whole) for case in heaters] == [(pytest.approx(used), pytest.approx(owned))]
    weighted = [case for case in measure_of("utilization").cases(month.span) if case.group == "heater"]
    assert [(case.part, case.whole) for case in weighted] == [(pytest.approx(400 * used), pytest.approx(400 * owned))]
    # 96 hours by the clock, 80 by the meter; the other has no meter at its end.
    assert worked(month, "silent_hours").part == pytest.approx(16.0)


def test_a_second_load_within_a_day_says_that_the_first_was_too_small(month: Month) -> None:
    enough, short, staged = month.job(), month.job(), month.job()
    cast = month.night.cast
    for job, written in ((enough, at(6, 2)), (short, at(5, 12)), (staged, at(5, -2))):
        month.visit(job, date(2026, 3, 5), kind=Visit.Kind.EMERGENCY, arrived_at=at(5, 1), state=Visit.State.DONE)
        load = LoadList.objects.create(
            vehicle=cast.van, warehouse=cast.north, departs_at=written, crew_name="N1", made_at=written
        )
        LoadLine.objects.create(load_list=load, model=cast.mover, job=job, stop_order=1, wanted=4)
    # 25 hours later is another day's load, before arriving was planned.
    assert worked(month, "first_visit_adequacy") == Figure(pytest.approx(200 / 3), None, 3, 0, 2.0, 3.0)


def test_a_visit_that_was_never_recorded_is_not_done(month: Month) -> None:
    job, state = month.job(), Visit.State
    for day, how in ((6, state.DONE), (7, state.DONE), (8, state.DUE), (9, state.CANCELED), (30, state.DUE)):
        month.visit(job, date(2026, 3, day), state=how)
    month.visit(job, date(2026, 3, 10), state=state.MISSED, reason="no crew")
    # Done on the 6th and on Saturday the 7th; Sunday the 8th passed unrecorded, the 10th was missed.
    assert worked(month, "visits_done") == Figure(50.0, None, 4, 1, 2.0, 4.0)
    assert groups(month, "visits_done") == {"weekday": 1.0, "weekend": 1.0}


def test_a_trip_that_could_not_work_is_counted_by_its_cause(month: Month) -> None:
    job = month.job()
    for left_at in (at(6, 9), at(7, 9), None):
        month.visit(
            job, date(2026, 3, 7), state=Visit.State.CANNOT_WORK, reason="locked gate", told="owner", left_at=left_at
        )
    assert groups(month, "wasted_trips") == {"locked gate": 2.0}


def test_hours_driven_overtime_and_short_rest(month: Month) -> None:
    for day in range(2, 7):  # Monday to Friday, 9 hours each, 06:00 to 15:00
        month.worked(at(day, 6), at(day, 15))
    month.worked(at(6, 21), at(6, 23))  # six hours after Friday's work
    visit = month.visit(month.job(), date(2026, 3, 2), left_at=at(2, 7), arrived_at=at(2, 8.5))
    month.stop(visit)
    # 47 hours in the week: 7 beyond 40.
    assert worked(month, "overtime").part == pytest.approx(7.0)
    assert worked(month, "rest_breaches").part == 1
    assert worked(month, "drive_share").value == pytest.approx(100 * 1.5 / 47)


def test_ready_and_not_found_show_the_present(month: Month) -> None:
    cast = month.night.cast
    before = worked(month, "ready_share")
    cast.units("0901", "0902")
    cast.units("0903", condition=Condition.NOT_YET_CLEANED)
    after = worked(month, "ready_share")
    assert (after.part - before.part, after.whole - before.whole) == (2, 3)
    assert worked(month, "not_found").part == 0
