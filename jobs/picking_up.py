"""A dry job from which everything was taken up: the pick-up is done, whichever visit did it."""

from datetime import datetime

from django.contrib.auth.models import User

from jobs import journal
from jobs.models import Job, Visit
from jobs.refueling import cancel_due


def all_taken_up(job: Job, *, actor: User, now: datetime) -> None:
    """
    Mark a job at goal as picked up and cancel the trip that was planned for it; the caller's transaction.

    Nobody but custody knows that nothing stands there any more.
    """
    job.stage = Job.Stage.PICKED_UP
    job.save(update_fields=["stage"])
    journal.note(
        kind="stage_changed",
        actor=actor,
        now=now,
        job=job,
        data={"from": str(Job.Stage.AT_GOAL), "to": str(Job.Stage.PICKED_UP)},
    )
    kinds = (Visit.Kind.PICK_UP, Visit.Kind.MONITORING)
    cancel_due(job, kinds=kinds, why="all_taken_up", actor=actor, now=now)
