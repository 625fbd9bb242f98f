"""
Reading what happened at the jobs and seeing to it that each has its next visit.

A job that dries is visited every day; a job whose readings met their goals becomes a pick-up.
"""

from collections import Counter, defaultdict
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from django.contrib.auth.models import User

from dispatch.rules import figure
from equipment.custody.after_moves import GENERATOR
from equipment.models import Holder, UnitNow
from jobs import journal, refueling
from jobs.models import Area, Job, Visit
from jobs.use_case import key_for
from jobs.visits import add_visit

OPEN = (Visit.State.DUE, Visit.State.UNDER_WAY)


@dataclass(frozen=True)
class Followed:
    """What was added for the day, and which monitoring visits became pick-ups."""

    added: tuple[int, ...]
    turned: tuple[int, ...]


def ensure_visits(*, key: UUID, actor: User, now: datetime, area: Area, day: date) -> Followed:
    """
    Give every open job its visit on the day. Part of planning: call inside its transaction.

    Doing it again changes nothing: a job with an open visit due on the day, or overdue and on nobody's way, has its
    visit. One that an earlier day's route will still make is that day's visit, not this one's.
    """
    jobs = list(Job.objects.filter(area=area, stage__in=[Job.Stage.DRYING, Job.Stage.AT_GOAL]).order_by("pk"))
    open_visits: dict[int, list[Visit]] = defaultdict(list)
    due = Visit.objects.filter(job__in=jobs, state__in=OPEN, due_on__lte=day).select_related("stop__crew")
    due = due.exclude(kind=Visit.Kind.REFUEL)
    for visit in due.order_by("due_on", "pk"):
        stop = getattr(visit, "stop", None)
        if stop is None or stop.crew.service_day >= day or stop.crew.at_latest <= now:
            open_visits[visit.job_id].append(visit)
    there = _units_there([job.pk for job in jobs])
    added, turned = [], []
    for job in jobs:
        added += _refueling(job, there[job.pk], day, actor, now)
        mine = open_visits[job.pk]
        if job.stage == Job.Stage.AT_GOAL:
            stale = [visit for visit in mine if visit.kind == Visit.Kind.MONITORING and visit.left_at is None]
            for visit in stale:
                _turn(visit, there[job.pk], actor, now)
                turned.append(visit.pk)
            for visit in mine:
                _collect(visit, there[job.pk])
        if mine:
            continue
        pick_up = job.stage == Job.Stage.AT_GOAL
        made = add_visit(
            key=key_for(key, f"job {job.pk} on {day}"),
            actor=actor,
            now=now,
            job_id=job.pk,
            kind=Visit.Kind.PICK_UP if pick_up else Visit.Kind.MONITORING,
            due_on=day,
            service_s=_service_s(there[job.pk], pick_up=pick_up),
            needs=_needs(there[job.pk], pick_up=pick_up),
        )
        added.append(made.visit_id)
    return Followed(tuple(added), tuple(turned))


def _refueling(job: Job, there: Counter[str], day: date, actor: User, now: datetime) -> list[int]:
    """All refueling of the day where a generator stands; none where it is gone."""
    if GENERATOR not in there:
        if job.visits.filter(kind=Visit.Kind.REFUEL, state=Visit.State.DUE).exists():
            refueling.no_more(job, actor=actor, now=now)
        return []
    zone = ZoneInfo(job.time_zone)
    until = datetime.combine(day + timedelta(days=1), time(), zone)
    filled = job.visits.filter(kind=Visit.Kind.REFUEL, state=Visit.State.DONE).order_by("-finished_at").first()
    since = now if filled is None or filled.finished_at is None else max(filled.finished_at, now - refueling.every(now))
    return [visit.pk for visit in refueling.see_to_it(job, since=since, until=until, actor=actor, now=now)]


def _turn(visit: Visit, there: Counter[str], actor: User, now: datetime) -> None:
    """A monitoring visit of a dry job becomes the pick-up: same promise, other work."""
    visit.kind = Visit.Kind.PICK_UP
    visit.needs = _needs(there, pick_up=True)
    visit.service_s = _service_s(there, pick_up=True)
    visit.save(update_fields=["kind", "needs", "service_s"])
    journal.note(kind="visit_became_pick_up", actor=actor, now=now, job=visit.job, data={"visit": visit.pk})


def _collect(visit: Visit, there: Counter[str]) -> None:
    """A pick-up that is not under way takes what stands there now, however it came to be one."""
    needs = {**visit.needs, **_needs(there, pick_up=True)}
    if visit.kind == Visit.Kind.PICK_UP and visit.left_at is None and visit.needs != needs:
        visit.needs, visit.service_s = needs, _service_s(there, pick_up=True)
        visit.save(update_fields=["needs", "service_s"])


def _units_there(job_ids: list[int]) -> dict[int, Counter[str]]:
    there: dict[int, Counter[str]] = defaultdict(Counter)
    rows = UnitNow.objects.filter(holder__kind=Holder.Kind.JOB, holder__job_id__in=job_ids)
    for job_id, kind in rows.values_list("holder__job_id", "unit__model__kind"):
        there[job_id][kind] += 1
    return there


def _needs(there: Counter[str], *, pick_up: bool) -> dict[str, object]:
    return {"skills": ["water"], **({"collect": dict(there)} if pick_up else {})}


def _service_s(there: Counter[str], *, pick_up: bool) -> int:
    """Half an hour and a minute a unit to look after, two a unit to take up."""
    each = figure("pick_up_seconds_a_unit" if pick_up else "monitoring_seconds_a_unit")
    return figure("visit_seconds") + each * there.total()
