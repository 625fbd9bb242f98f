"""Visits: an open job always has a next one, a miss has its reason and its new time."""

from collections.abc import Callable
from datetime import date, timedelta
from uuid import uuid4

import pytest
from django.contrib.auth.models import User

from jobs import selectors, stops, visits
from jobs.closing import close_locked
from jobs.models import Job, JournalEntry, PrivateFacts, Visit
from jobs.refusals import Unusable
from tests.jobs.conftest import NIGHT, later


def _due(job: Job) -> list[tuple[str, date]]:
    return list(job.visits.filter(state="due").order_by("pk").values_list("kind", "due_on"))


def _stop(do: Callable[..., stops.StopState], actor: User, minutes: float, visit_id: int, **more: object):
    return do(key=uuid4(), actor=actor, now=later(minutes), visit_id=visit_id, **more)


def test_a_first_visit_goes_from_leaving_to_drying(job: Job, lead: User) -> None:
    Job.objects.filter(pk=job.pk).update(stage=Job.Stage.WAITING)
    visit = Visit.objects.create(job=job, kind="emergency", due_on=NIGHT.date(), service_s=9000)

    assert _stop(stops.leave_for_stop, lead, 10, visit.pk).stage == "sent"
    assert _stop(stops.arrive_at_stop, lead, 40, visit.pk).state == "under_way"
    done = _stop(stops.finish_stop, lead, 200, visit.pk)

    visit.refresh_from_db()
    assert (visit.left_at, visit.arrived_at, visit.finished_at) == (later(10), later(40), later(200))
    assert (done.state, done.stage) == ("done", "drying")
    # 02:07 at night on the 16th at the job: the next visit is on the 17th there.
    assert _due(job) == [("monitoring", date(2026, 1, 17))]


def test_times_without_network_are_kept_as_they_were(visit: Visit, lead: User) -> None:
    _stop(stops.arrive_at_stop, lead, 300, visit.pk, happened_at=later(100))

    entry = JournalEntry.objects.get(kind="crew_arrived")
    assert (entry.happened_at, entry.recorded_at) == (later(100), later(300))
    with pytest.raises(Unusable):
        _stop(stops.finish_stop, lead, 300, visit.pk, happened_at=later(301))


def test_the_day_of_the_next_visit_is_the_jobs_own(visit: Visit, job: Job, lead: User) -> None:
    """07:30 UTC is half past eleven at night in Portland, half past midnight in Boise."""
    Job.objects.filter(pk=job.pk).update(time_zone="America/Boise")
    _stop(stops.finish_stop, lead, 43, visit.pk)

    assert _due(job) == [("monitoring", date(2026, 1, 17))]


def test_no_second_next_visit_is_made(visit: Visit, job: Job, lead: User) -> None:
    later_visit = Visit.objects.create(job=job, kind="monitoring", due_on=date(2026, 1, 18), service_s=2700)
    _stop(stops.finish_stop, lead, 60, visit.pk)

    assert [row.pk for row in job.visits.filter(state="due")] == [later_visit.pk]


def test_a_pick_up_ends_the_visits(job: Job, lead: User) -> None:
    Job.objects.filter(pk=job.pk).update(stage=Job.Stage.AT_GOAL)
    visit = Visit.objects.create(job=job, kind="pick_up", due_on=NIGHT.date(), service_s=3600)

    assert _stop(stops.finish_stop, lead, 60, visit.pk).stage == "picked_up"
    assert _due(job) == []


def test_an_open_job_gets_its_next_visit_once_and_it_is_listed_as_due(job: Job, dispatcher: User) -> None:
    day = date(2026, 1, 17)

    assert visits.ensure_next_visit(job=job, on=day, actor=dispatcher, now=NIGHT) is not None
    assert visits.ensure_next_visit(job=job, on=day, actor=dispatcher, now=NIGHT) is None
    assert [line.job_number for line in selectors.visits_due(day=day)] == [job.number]


@pytest.mark.parametrize(("reason", "told", "where"), [("", "owner", "reason"), ("gate locked", " ", "told")])
def test_a_miss_says_why_and_who_was_told(visit: Visit, dispatcher: User, reason: str, told: str, where: str) -> None:
    with pytest.raises(visits.ReasonMissing) as refused:
        visits.miss_visit(
            key=uuid4(), actor=dispatcher, now=NIGHT, visit_id=visit.pk, reason=reason, told=told, new_time=later(600)
        )

    assert refused.value.where == where


def test_a_second_miss_in_a_row_is_for_a_manager(visit: Visit, dispatcher: User, manager: User) -> None:
    def miss(visit_id: int, actor: User) -> visits.VisitMissed:
        return visits.miss_visit(
            key=uuid4(), actor=actor, now=NIGHT, visit_id=visit_id, reason="gate locked", told="owner",
            new_time=NIGHT + timedelta(hours=10),
        )  # fmt: skip

    missed = miss(visit.pk, dispatcher)
    assert missed.due_on == date(2026, 1, 16)
    with pytest.raises(visits.MissedTwice):
        miss(missed.next_visit_id, dispatcher)
    assert miss(missed.next_visit_id, manager).next_visit_id != missed.next_visit_id


def test_could_not_work_moves_the_visit(visit: Visit, job: Job, lead: User) -> None:
    with pytest.raises(visits.ReasonMissing):
        _stop(stops.cannot_work, lead, 60, visit.pk, reason=" ")
    state = _stop(stops.cannot_work, lead, 60, visit.pk, reason="nobody opened")

    assert state.state == "cannot_work"
    assert Visit.objects.get(pk=state.next_visit_id).follows == visit
    with pytest.raises(visits.VisitOver):
        _stop(stops.finish_stop, lead, 70, visit.pk)


@pytest.mark.parametrize(("start", "end"), [(later(60), None), (None, later(60)), (later(60), later(59))])
def test_a_window_has_both_ends_in_order(job: Job, dispatcher: User, start: object, end: object) -> None:
    with pytest.raises(visits.WindowOutOfOrder):
        visits.add_visit(
            key=uuid4(), actor=dispatcher, now=NIGHT, job_id=job.pk, kind="inspection", due_on=NIGHT.date(),
            window_from=start, window_until=end,
        )  # fmt: skip


def test_a_closed_job_takes_nothing_more_and_forgets_its_codes(visit: Visit, job: Job, dispatcher: User) -> None:
    close_locked(job_id=job.pk, actor=dispatcher, now=later(9000))

    facts = PrivateFacts.objects.get(job=job)
    assert (facts.access, facts.care, facts.erased_at) == ("", "", later(9000))
    visit.refresh_from_db()
    assert visit.state == "canceled"
    with pytest.raises(visits.JobOver):
        visits.add_visit(
            key=uuid4(), actor=dispatcher, now=later(9001), job_id=job.pk, kind="inspection", due_on=NIGHT.date()
        )
