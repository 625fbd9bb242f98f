"""
The part of closing a job that lies in these tables. Nobody but `equipment.closing` calls it: whether a unit still
stands there is known only there.
"""

from datetime import datetime

from django.contrib.auth.models import User
from django.db.models import Q

from jobs import clocks, journal
from jobs.models import Job, PrivateFacts, Visit
from jobs.visits import locked_job


def close_locked(*, job_id: int, actor: User, now: datetime) -> Job:
    """
    Close the job, cancel what was still due, erase access codes and care notes; the caller's transaction.

    :raises JobNotThere: if there is none.
    :raises JobOver: if it is closed.
    """
    job = locked_job(job_id)
    for visit in job.visits.filter(state=Visit.State.DUE):
        # Nothing is owed any more: what had not fallen due was kept.
        clocks.end_of_visit(visit, happened_at=now, actor=actor, now=now, why="job_closed")
    job.visits.filter(state=Visit.State.DUE).update(state=Visit.State.CANCELED)
    PrivateFacts.objects.filter(Q(job=job) | Q(job__joined_to=job)).update(access="", care="", erased_at=now)
    for call in job.calls.all():
        call.private_answers = {
            field: value for field, value in call.private_answers.items() if field not in {"access", "care"}
        }
        call.save(update_fields=["private_answers"])
    job.stage, job.closed_at = Job.Stage.CLOSED, now
    job.save(update_fields=["stage", "closed_at"])
    journal.note(kind="job_closed", actor=actor, now=now, job=job)
    return job
