"""What must be done at a stop, and what happened at the job before: in a few lines, above the forms."""

from dataclasses import dataclass
from datetime import datetime

from django.db.models import Count, Q

from dispatch.crew.on_site import OnSite
from dispatch.crew.pages import StopPage
from dispatch.crew.readings import ReadingsToday
from dispatch.crew.signing import Signing
from equipment.advice import AdviceLine
from equipment.models import Move
from jobs.models import Visit

_MOVED = (Move.Why.PLACED, Move.Why.TAKEN_UP, Move.Why.JOB_TO_JOB)
_ENDED = (Visit.State.DONE, Visit.State.CANNOT_WORK, Visit.State.MISSED)


@dataclass(frozen=True)
class LastTime:
    """The visit before this one: what it was, how it ended, who was there, and what was placed and taken up since."""

    kind: str
    state: str
    at: datetime | None
    lead: str
    note: str
    placed: int
    taken_up: int


def last_time(page: StopPage) -> LastTime | None:
    """The job's visit that ended last (2 queries)."""
    ended = Visit.objects.filter(job_id=page.job_id, state__in=_ENDED).exclude(pk=page.visit_id)
    visit = ended.select_related("stop__crew__lead").order_by("-finished_at", "-pk").first()
    if visit is None:
        return None
    stop = getattr(visit, "stop", None)
    since = visit.arrived_at or visit.finished_at
    moved = {"placed": 0, "taken_up": 0}
    if since is not None:
        into, out = Q(to_holder__job_id=page.job_id), Q(from_holder__job_id=page.job_id)
        rows = Move.objects.filter(into | out, happened_at__gte=since, corrected_by__isnull=True, why__in=_MOVED)
        moved = rows.aggregate(
            placed=Count("pk", filter=into & ~Q(from_holder__job_id=page.job_id)),
            taken_up=Count("pk", filter=out & ~Q(to_holder__job_id=page.job_id)),
        )
    return LastTime(
        visit.kind_words,
        visit.get_state_display(),
        visit.finished_at,
        "" if stop is None else stop.crew.lead.name,
        visit.reason or visit.note,
        moved["placed"],
        moved["taken_up"],
    )


def to_do(
    page: StopPage, *, read: ReadingsToday, site: OnSite, signing: Signing, advice: tuple[AdviceLine, ...]
) -> tuple[str, ...]:
    """What is asked of this stop, in the order of the work."""
    units = len(page.there)
    lines = []
    if signing.wanted:
        lines.append("Get the work signed for before it begins: nobody has signed yet.")
    elif not page.authorized:
        lines.append("Nothing is authorized on record: ask who may sign.")
    if page.kind == Visit.Kind.REFUEL:
        lines.append("Fill the generator: stop it, let it cool, fill it outside, then read its hour meter.")
        return tuple(lines)
    if page.kind in (Visit.Kind.EMERGENCY, Visit.Kind.FIRST):
        lines.append("Look for what is unsafe, then place what you bring, each unit with its room.")
        lines.append("Mark the points with dry standard and goal, take the first readings, photos of every room.")
    if page.kind == Visit.Kind.PICK_UP:
        lines.append(f"Take up all {_many(units, 'unit')} and count them; photos of the rooms as you leave them.")
        return tuple(lines)
    open_points = sum(not point.at_goal for point in read.points)
    if read.points:
        lines.append(f"Read the air and {_many(len(read.points), 'point')}: {open_points} above goal.")
    if units:
        meters = f"; {_many(len(site.meters), 'hour meter')}" if site.meters else ""
        lines.append(f"Count {_many(units, 'unit')}{meters}.")
    undecided = sum(line.decided is None for line in advice)
    if undecided:
        lines.append(f"Decide on {_many(undecided, 'suggestion')}: what to change.")
    return tuple(lines)


def _many(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"
