"""The tap at the warehouse: what a stop wanted from there is aboard, so the detour is behind the crew."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.contrib.auth.models import User

from dispatch.models import Stop
from jobs import journal
from jobs.happened import when
from jobs.refusals import NotThere
from jobs.use_case import use_case


@dataclass(frozen=True)
class Loaded:
    """Since when a stop's load is aboard."""

    visit_id: int
    fetched_at: datetime


@use_case("mark_loaded")
def mark_loaded(*, key: UUID, actor: User, now: datetime, visit_id: int, happened_at: datetime | None = None) -> Loaded:
    """
    Record that the crew has loaded for the stop; from then on its route goes straight there. `happened_at` is when it
    really did, where that was recorded without a network.

    :raises NotThere: if the visit is on no route.
    """
    stop = Stop.objects.select_for_update(of=("self",)).select_related("visit__job").filter(visit_id=visit_id).first()
    if stop is None:
        raise NotThere("This stop is on no route. Open your day again.")
    if stop.fetched_at is None:
        stop.fetched_at = when(happened_at, now)
        stop.save(update_fields=["fetched_at"])
        journal.note(
            kind="loaded_for_stop",
            actor=actor,
            now=now,
            job=stop.visit.job,
            happened_at=stop.fetched_at,
            data={"visit": visit_id},
        )
    return Loaded(visit_id, stop.fetched_at)
