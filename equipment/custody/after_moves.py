"""What follows from units coming to a job or leaving it: refueling, and the end of a dry job with nothing left."""

from collections.abc import Iterable
from datetime import datetime

from django.contrib.auth.models import User

from equipment.models import Holder, Unit, UnitNow
from jobs import refueling
from jobs.models import Job
from jobs.picking_up import all_taken_up

GENERATOR = "generator"


def arrived(job: Job, units: Iterable[Unit], *, at: datetime, actor: User, now: datetime) -> None:
    """Units now stand at the job; with a generator among them it is refueled from now on."""
    if any(unit.model.kind == GENERATOR for unit in units):
        refueling.see_to_it(job, since=at, actor=actor, now=now)


def left(job: Job, origin: Holder, units: Iterable[Unit], *, actor: User, now: datetime) -> None:
    """Units were taken up from the job."""
    there = UnitNow.objects.filter(holder=origin)
    if any(unit.model.kind == GENERATOR for unit in units) and not there.filter(unit__model__kind=GENERATOR).exists():
        refueling.no_more(job, actor=actor, now=now)
    if job.stage == Job.Stage.AT_GOAL and not there.exists():
        all_taken_up(job, actor=actor, now=now)
