"""Several callers of one loss: which jobs and calls lie at the same place, and why they may be one."""

import re
from dataclasses import dataclass
from datetime import datetime, timedelta

from jobs.models import Call, Job
from jobs.places import Place

# A next-door neighbor's call belongs to a loss of about the same time; one at the same door may come days later.
NEXT_DOOR_WITHIN = timedelta(hours=24)
NEXT_DOOR_NUMBERS = 12
MOST = 5
_SHORT = {
    "street": "st", "avenue": "ave", "court": "ct", "road": "rd", "drive": "dr", "lane": "ln", "place": "pl",
    "boulevard": "blvd", "highway": "hwy", "north": "n", "south": "s", "east": "e", "west": "w", "northeast": "ne",
    "northwest": "nw", "southeast": "se", "southwest": "sw",
}  # fmt: skip


@dataclass(frozen=True)
class SameLoss:
    """A job, or a call without a job yet, that may be the same loss, with the reason in words."""

    job_id: int | None
    job_number: str
    call_id: int | None
    where: str
    why: str


def same_loss(
    *, call_id: int, area_id: int, street: str, unit: str, place: Place | None, started_at: datetime
) -> tuple[SameLoss, ...]:
    """Jobs and calls at this place or next door, the same door first (2 queries; none while no street is known)."""
    here = door_of(street)
    if place is None or here is None:
        return ()
    town = {"town__iexact": place.town, "state": place.state}
    found: list[tuple[int, SameLoss]] = []
    for job in Job.objects.filter(area_id=area_id, closed_at__isnull=True, **town).order_by("-opened_at", "-pk"):
        rank, why = _why(here, unit, started_at, door_of(job.street), job.unit, job.opened_at)
        if why:
            found.append((rank, SameLoss(job.pk, job.number, None, f"{job.street} {job.unit}".strip(), why)))
    waiting = Call.objects.filter(area_id=area_id, ended_at__isnull=True, job__isnull=True).exclude(pk=call_id)
    for call in waiting.order_by("started_at", "pk"):
        told = call.answers
        rank, why = _why(here, unit, started_at, door_of(told.get("street", "")), told.get("unit", ""), call.started_at)
        elsewhere = told.get("town") and told["town"].casefold() != place.town.casefold()
        if why and not elsewhere and told.get("state", place.state) == place.state:
            found.append((rank, SameLoss(None, "", call.pk, f"{told['street']} {told.get('unit', '')}".strip(), why)))
    return tuple(line for _, line in sorted(found, key=lambda row: row[0])[:MOST])


def door_of(street: str) -> tuple[int, str] | None:
    """House number and street, however it was abbreviated; None without a number."""
    match = re.match(r"\s*(\d+)[a-z]?\s+(.+)", street.casefold())
    if match is None:
        return None
    words = re.findall(r"[a-z0-9]+", match[2])
    return int(match[1]), " ".join(_SHORT.get(word, word) for word in words)


def _why(
    here: tuple[int, str],
    unit: str,
    at: datetime,
    there: tuple[int, str] | None,
    their_unit: str,
    their_at: datetime,
) -> tuple[int, str]:
    """Rank and reason; "" if it is another place."""
    if there is None or there[1] != here[1]:
        return 9, ""
    apart = abs(at - their_at)
    ago = _ago(apart)
    if there[0] == here[0]:
        if unit.casefold() == their_unit.casefold():
            return 0, f"the same address, {ago}"
        return 1, f"the same building, another unit, {ago}"
    if abs(there[0] - here[0]) <= NEXT_DOOR_NUMBERS and apart <= NEXT_DOOR_WITHIN:
        return 2, f"next door, {ago}"
    return 9, ""


def _ago(apart: timedelta) -> str:
    minutes = apart // timedelta(minutes=1)
    if minutes < 120:
        return f"{minutes} min apart"
    return f"{minutes // 60} h apart" if minutes < 48 * 60 else f"{minutes // 1440} days apart"
