"""A stabilizing visit where there is not enough for all: a few machines now, and a booked return with the rest."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.contrib.auth.models import User

from dispatch.rules import figure
from jobs.models import Visit
from jobs.use_case import key_for
from jobs.visits import add_visit

NOTE = "Stabilizing visit: stop the water, extract, lift contents, photos, signed limits; the rest comes on the return."
MARK = "stabilizing"


@dataclass(frozen=True)
class Returning:
    """The booked return: until when it is promised, and what it brings."""

    visit_id: int
    due_at: datetime
    load: dict[str, int]


def needs(skills: Sequence[str], deliver: Mapping[str, int], *, stabilize: bool) -> dict[str, Any]:
    """What the visit asks for, marked where it only stabilizes."""
    told = {"skills": list(skills), "deliver": dict(deliver)}
    return {**told, MARK: True} if stabilize else told


def book_return(
    *, key: UUID, actor: User, now: datetime, visit_id: int, rest: dict[str, int], service_s: int
) -> Returning:
    """
    Promise to come back with the rest within the rule's hours; the promise has its clock. Call inside `send`.

    The work that was put off is done then, so the return lasts as long as the whole first visit would have.
    """
    visit = Visit.objects.select_related("job").get(pk=visit_id)
    due_at = now + timedelta(hours=figure("stabilizing_return_hours"))
    brings = ", ".join(f"{count} {kind.replace('_', ' ')}" for kind, count in rest.items()) or "nothing more"
    added = add_visit(
        key=key_for(key, "return"),
        actor=actor,
        now=now,
        job_id=visit.job_id,
        kind=Visit.Kind.DELIVERY,
        due_on=due_at.astimezone(ZoneInfo(visit.job.time_zone)).date(),
        due_at=due_at,
        service_s=service_s,
        needs={"skills": visit.needs["skills"], "deliver": rest},
        note=f"Return after the stabilizing visit, with {brings}.",
        follows=visit_id,
    )
    return Returning(added.visit_id, due_at, rest)
