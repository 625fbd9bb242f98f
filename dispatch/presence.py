"""
Two at one thing see each other: who has a call or a job open, and since when.

Every open page says every few seconds that it is open. That is no fact of the record and is overwritten each time, so
it is written here, without a use case's key and stored call.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.contrib.auth.models import User
from django.db import IntegrityError, transaction

from dispatch.models import Presence
from jobs import areas
from jobs.models import Call, Job
from jobs.refusals import NotThere

# A page says so every ten seconds; after three times of silence it is closed, or has lost the network.
GONE_AFTER = timedelta(seconds=30)


@dataclass(frozen=True)
class PersonHere:
    """Somebody else who has the same thing open."""

    user_id: int
    name: str
    since: datetime


@dataclass(frozen=True)
class AlsoHere:
    """Who else has it open; `mark` changes when that does."""

    people: tuple[PersonHere, ...]

    @property
    def mark(self) -> str:
        return ",".join(f"{person.user_id}@{person.since:%H%M%S}" for person in self.people)


def here(*, user: User, kind: str, subject_id: int, now: datetime) -> AlsoHere:
    """
    Say that the user has it open, and hear who else has.

    :raises NotThere: if there is no such call or job.
    :raises OtherArea: if it is of an area in which the user holds no role.
    """
    areas.require_sight(user, {f"{kind}_id": subject_id})
    rows = Presence.objects.filter(kind=kind, subject_id=subject_id, user=user)
    if not rows.filter(seen_at__gte=now - GONE_AFTER).update(seen_at=now) and not rows.update(since=now, seen_at=now):
        area_id = _area_of(kind, subject_id)
        try:
            with transaction.atomic():
                Presence.objects.create(
                    user=user, area_id=area_id, kind=kind, subject_id=subject_id, since=now, seen_at=now
                )
        except IntegrityError:
            # The same person's other window was first.
            rows.update(seen_at=now)
    return also_here(user=user, kind=kind, subject_id=subject_id, now=now)


def leave(*, user: User, kind: str, subject_id: int) -> None:
    """The user has closed it."""
    Presence.objects.filter(kind=kind, subject_id=subject_id, user=user).delete()


def also_here(*, user: User, kind: str, subject_id: int, now: datetime) -> AlsoHere:
    """
    Who else has it open; one query, and one for the area of a user who has not all.

    :raises OtherArea: if it is of an area in which the user holds no role.
    """
    areas.require_sight(user, {f"{kind}_id": subject_id})
    rows = Presence.objects.filter(kind=kind, subject_id=subject_id, seen_at__gte=now - GONE_AFTER)
    others = rows.exclude(user=user).select_related("user").order_by("since", "pk")
    return AlsoHere(
        tuple(PersonHere(row.user_id, row.user.get_full_name() or row.user.get_username(), row.since) for row in others)
    )


def _area_of(kind: str, subject_id: int) -> int:
    if kind == Presence.Kind.CALL:
        found = Call.objects.filter(pk=subject_id).values_list("area_id", flat=True).first()
    else:
        found = Job.objects.filter(pk=subject_id).values_list("area_id", flat=True).first()
    if found is None:
        raise NotThere(f"There is no such {kind}.")
    return found
