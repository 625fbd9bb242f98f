"""What is erased of the ground floor's own tables: values go, the rows that others point at stay."""

from datetime import datetime
from typing import Any

from django.db.models import Q, QuerySet

from jobs import due_work, retention
from jobs.models import AgreedWith, ApiToken, Call, Contact, PrivateFacts, PrivateLook, SignedBy, UseCaseCall


def register() -> None:
    """Tell the schedule who erases what."""
    for kind, eraser in (
        ("access", _access),
        ("agreements", _agreements),
        ("callers", _callers),
        ("customers", _customers),
        ("looks", _looks),
        ("requests", _requests),
        ("signers", _signers),
        ("tokens", _tokens),
    ):
        retention.register(kind, eraser)
    due_work.register(retention.WORK, retention.nightly, queue="plan")
    due_work.register_standing(retention.schedule)


def _access(before: datetime, erase: bool) -> int:
    # Closing a job erases them at once; this is the net under it.
    rows = PrivateFacts.objects.filter(job__closed_at__lt=before).exclude(access="", care="")
    return rows.update(access="", care="", erased_at=before) if erase else rows.count()


def _callers(before: datetime, erase: bool) -> int:
    return _answers(Call.objects.filter(ended_at__lt=before, job__isnull=True), erase)


def _customers(before: datetime, erase: bool) -> int:
    people = Contact.objects.filter(job__closed_at__lt=before).exclude(name="", phone="")
    number = people.update(name="", phone="") if erase else people.count()
    return number + _answers(Call.objects.filter(job__closed_at__lt=before), erase)


def _answers(calls: QuerySet[Call], erase: bool) -> int:
    rows = calls.exclude(private_answers={})
    return rows.update(private_answers={}) if erase else rows.count()


def _agreements(before: datetime, erase: bool) -> int:
    rows = AgreedWith.objects.filter(end__recorded_at__lt=before).exclude(name="")
    return rows.update(name="") if erase else rows.count()


def _signers(before: datetime, erase: bool) -> int:
    return _gone(SignedBy.objects.filter(signature__job__closed_at__lt=before), erase)


def _requests(before: datetime, erase: bool) -> int:
    rows = UseCaseCall.objects.filter(now__lt=before, private_arguments__isnull=False)
    return rows.update(private_arguments=None) if erase else rows.count()


def _tokens(before: datetime, erase: bool) -> int:
    return _gone(ApiToken.objects.filter(Q(expires_at__lt=before) | Q(revoked_at__lt=before)), erase)


def _looks(before: datetime, erase: bool) -> int:
    return _gone(PrivateLook.objects.filter(looked_at__lt=before), erase)


def _gone(rows: QuerySet[Any], erase: bool) -> int:
    return rows.delete()[0] if erase else rows.count()
