"""What is erased of dispatch's tables."""

from datetime import datetime

from dispatch.models import Notice, PhonePosition
from jobs import retention
from jobs.models import UseCaseCall


def register() -> None:
    """Tell the schedule who erases what."""
    retention.register("messages", _messages)
    retention.register("positions", _positions)


def _messages(before: datetime, erase: bool) -> int:
    rows = Notice.objects.filter(made_at__lt=before).exclude(text="")
    return rows.update(text="") if erase else rows.count()


def _positions(before: datetime, erase: bool) -> int:
    """The position itself, and the recorded requests that told it."""
    rows = PhonePosition.objects.filter(at__lt=before)
    told = UseCaseCall.objects.filter(verb="tell_position", now__lt=before, private_arguments__isnull=False)
    if not erase:
        return rows.count() + told.count()
    return rows.delete()[0] + told.update(private_arguments=None)
