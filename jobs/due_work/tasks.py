"""The same rows, executed by Celery workers."""

from celery import shared_task
from django.utils import timezone

from jobs.due_work.queue import due_ids
from jobs.due_work.registry import handler_for
from jobs.due_work.run import run_one
from jobs.due_work.standing import ensure_standing
from jobs.models.due_work import DueWork


@shared_task(acks_late=True, ignore_result=True)
def run_row(pk: int) -> None:
    """Do one row, if it is still to be done."""
    run_one(pk, now=timezone.now())


@shared_task(ignore_result=True)
def sweep() -> None:
    """Send whatever is due: a lost message or a restarted Redis costs seconds."""
    for row in DueWork.objects.filter(pk__in=due_ids(now=timezone.now())):
        run_row.apply_async((row.pk,), queue=handler_for(row.kind).queue)


@shared_task(ignore_result=True)
def keep_standing() -> None:
    """See to it that daily work stands in the rows."""
    ensure_standing(now=timezone.now())
