"""Running late, in one tap: the stops that follow move, and every customer who waits for one is told."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID, uuid5
from zoneinfo import ZoneInfo

from django.contrib.auth.models import User

from dispatch import notify
from dispatch.models import Stop
from dispatch.routes import lock_crews
from jobs import journal
from jobs.happened import when
from jobs.models import Contact, Visit
from jobs.refusals import NotThere, Unusable
from jobs.use_case import use_case

MOST_MIN = 240


@dataclass(frozen=True)
class LaterStop:
    """A stop that moved: when it was to start, when it starts now, and the notice to its customer, if one can go."""

    visit_id: int
    job_id: int
    job_number: str
    time_zone: str
    was: datetime
    starts_at: datetime
    past_window: bool
    notice_id: int | None

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.time_zone)


@dataclass(frozen=True)
class Late:
    """What a crew's delay did to the rest of its route, in order."""

    visit_id: int
    minutes: int
    moved: tuple[LaterStop, ...]


@use_case("run_late")
def run_late(
    *, key: UUID, actor: User, now: datetime, visit_id: int, minutes: int, happened_at: datetime | None = None
) -> Late:
    """
    The crew reaches the stop `minutes` late. Waiting on the way absorbs the delay; what is left moves the start.

    Every customer whose start moves gets a notice, or the desk is told that nobody can be reached. `happened_at` is
    when the crew said so, where that was kept without a network.

    :raises Unusable: if the minutes are not between 1 and 240.
    :raises NotThere: if the visit is on no route, or already begun.
    """
    if not 1 <= minutes <= MOST_MIN:
        raise Unusable(f"Say by how many minutes, from 1 to {MOST_MIN}. For more, call the desk.", where="minutes")
    at = when(happened_at, now)
    first = Stop.objects.select_related("visit").filter(visit_id=visit_id).first()
    if first is None or first.visit.arrived_at is not None or first.visit.state not in _AHEAD:
        raise NotThere("This stop is not ahead of you. Open your day again.")
    lock_crews([first.crew_id])
    rest = list(
        Stop.objects.filter(crew_id=first.crew_id, position__gte=first.position, visit__state__in=_AHEAD)
        .filter(visit__arrived_at__isnull=True)
        .select_related("visit__job", "crew__area")
        .order_by("position")
    )
    later = moved_by(rest, timedelta(minutes=minutes))
    told = _told(rest)
    moved = tuple(_move(key, stop, starts_at, told.get(stop.visit.job_id), actor, now) for stop, starts_at in later)
    data = {"visit": visit_id, "minutes": minutes, "moved": [row.visit_id for row in moved]}
    journal.note(kind="crew_late", actor=actor, now=now, job=first.visit.job, happened_at=at, data=data)
    return Late(visit_id, minutes, moved)


_AHEAD = (Visit.State.DUE, Visit.State.UNDER_WAY)


def moved_by(stops: Iterable[Stop], late: timedelta) -> tuple[tuple[Stop, datetime], ...]:
    """
    The stops of a route, in order, whose start moves when the first is reached `late`, each with its new start.

    A stop's planned wait at the door takes up delay; the drives and the break between stops keep their length.
    """
    moved = []
    for stop in stops:
        late -= min(late, stop.start_at - stop.arrive_at)
        if not late:
            break
        moved.append((stop, stop.start_at + late))
    return tuple(moved)


def _move(key: UUID, stop: Stop, starts_at: datetime, contact: Contact | None, actor: User, now: datetime) -> LaterStop:
    visit, was, by = stop.visit, stop.start_at, starts_at - stop.start_at
    # The door is reached when the work can begin: the planned wait is used up.
    stop.arrive_at, stop.start_at, stop.leave_at = starts_at, starts_at, stop.leave_at + by
    stop.save(update_fields=["arrive_at", "start_at", "leave_at"])
    visit.promised_start = starts_at
    visit.save(update_fields=["promised_start"])
    if stop.fetch_at is not None and stop.fetched_at is None:
        stop.fetch_at += by
        stop.save(update_fields=["fetch_at"])
    there, area = starts_at.astimezone(ZoneInfo(visit.job.time_zone)), stop.crew.area
    notice = None
    # A phone may say so hours later: a time that has passed by then is no news to anybody.
    if contact is not None and starts_at > now:
        notice = notify.write(
            key=uuid5(key, f"late:{visit.pk}"),
            area_id=visit.job.area_id,
            contact=contact,
            visit=visit,
            text=f"Your drying crew is running late. New arrival: about {there:%-I:%M %p %Z}."
            + (f" Questions: {area.phone}." if area.phone else ""),
            now=now,
        )
    journal.note(
        kind="start_moved",
        actor=actor,
        now=now,
        job=visit.job,
        data={
            "visit": visit.pk,
            "was": was.isoformat(),
            "starts_at": starts_at.isoformat(),
            "notice": notice.pk if notice else None,
        },
    )
    past = visit.window_until is not None and starts_at > visit.window_until
    job, notice_id = visit.job, notice.pk if notice else None
    return LaterStop(visit.pk, job.pk, job.number, job.time_zone, was, starts_at, past, notice_id)


def _told(stops: Iterable[Stop]) -> dict[int, Contact]:
    """Whom to tell of each job: who lets the crew in, else the first one with a number."""
    found: dict[int, Contact] = {}
    jobs = [stop.visit.job_id for stop in stops]
    for contact in Contact.objects.filter(job_id__in=jobs).exclude(phone="").order_by("-lets_in", "pk"):
        found.setdefault(contact.job_id, contact)
    return found
