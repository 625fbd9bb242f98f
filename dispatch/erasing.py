"""What is erased of dispatch's tables."""

from datetime import datetime

from dispatch.models import Notice
from jobs import retention


def register() -> None:
    """Tell the schedule who erases what."""
    retention.register("messages", _messages)


def _messages(before: datetime, erase: bool) -> int:
    rows = Notice.objects.filter(made_at__lt=before).exclude(text="")
    return rows.update(text="") if erase else rows.count()
