"""What is erased of the tables of others that are installed here: tries to sign in, and sessions."""

from datetime import datetime

from axes.models import AccessAttempt, AccessFailureLog, AccessLog
from django.contrib.sessions.models import Session

from jobs import retention


def register() -> None:
    """Tell the schedule who erases what."""
    retention.register("sign_ins", _sign_ins)
    retention.register("sessions", _sessions)


def _sign_ins(before: datetime, erase: bool) -> int:
    total = 0
    for model in (AccessAttempt, AccessFailureLog, AccessLog):
        rows = model.objects.filter(attempt_time__lt=before)
        total += rows.delete()[0] if erase else rows.count()
    return total


def _sessions(before: datetime, erase: bool) -> int:
    rows = Session.objects.filter(expire_date__lt=before)
    return rows.delete()[0] if erase else rows.count()
