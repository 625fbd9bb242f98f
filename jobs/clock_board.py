"""Which promise clocks run, what breaks first at the top; nothing that is late is ever left out."""

from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from django.db.models import Q

from jobs.clock_times import in_words, kept
from jobs.clocks import PromiseNotThere, running
from jobs.models import Promise, PromiseEnd

MOST_AHEAD = 60


@dataclass(frozen=True)
class ClockLine:
    """One clock: how long is left in words, what is promised to whom, by which rule, and who owns it."""

    promise_id: int
    kind: str
    kind_words: str
    call_id: int | None
    job_number: str
    place: str
    due_at: datetime
    due: str
    left: str
    late: bool
    basis: str
    owner: str
    by_word: bool


@dataclass(frozen=True)
class Clocks:
    """Every late clock and the next that fall due; `more` counts those further ahead that are not shown."""

    lines: tuple[ClockLine, ...]
    more: int


@dataclass(frozen=True)
class PastClock:
    """A clock of a job with its end: in words, with whom another time was agreed, and who recorded it."""

    kind: str
    due_at: datetime
    end: str
    happened_at: datetime
    with_whom: str
    by: str


def running_clocks(*, area_id: int, zone: ZoneInfo, now: datetime, most_ahead: int = MOST_AHEAD) -> Clocks:
    """The clocks of an area that have no end (1 query)."""
    rows = (
        running(Promise.objects.filter(area_id=area_id))
        .select_related("job__joined_to", "call__owner")
        .order_by("due_at", "pk")
    )
    lines = tuple(_line(row, zone, now) for row in rows)
    late = sum(line.late for line in lines)
    return Clocks(lines[: late + most_ahead], max(0, len(lines) - late - most_ahead))


def clocks_of_job(job_id: int, *, zone: ZoneInfo, now: datetime) -> tuple[ClockLine, ...]:
    """The clocks of a job that have no end, what breaks first at the top (1 query)."""
    rows = running(Promise.objects.filter(of_loss(job_id))).select_related("job__joined_to", "call__owner")
    rows = rows.order_by("due_at", "pk")
    return tuple(_line(row, zone, now) for row in rows)


def clock(promise_id: int, *, zone: ZoneInfo, now: datetime) -> tuple[ClockLine, str]:
    """
    One clock, and how it ended, "" while it runs (1 query).

    :raises PromiseNotThere: if there is none.
    """
    row = Promise.objects.select_related("job__joined_to", "call__owner", "end").filter(pk=promise_id).first()
    if row is None:
        raise PromiseNotThere(f"There is no promise {promise_id}. Choose one on the desk's board.", promise=promise_id)
    ended: PromiseEnd | None = getattr(row, "end", None)
    return _line(row, zone, now), "" if ended is None else ended.get_end_display()


def past_clocks(job_id: int) -> tuple[PastClock, ...]:
    """How the job's promises ended, oldest first (1 query)."""
    rows = PromiseEnd.objects.filter(of_loss(job_id, "promise__")).select_related("promise", "actor", "agreed_with")
    return tuple(
        PastClock(
            row.promise.get_kind_display(),
            row.promise.due_at,
            row.get_end_display(),
            row.happened_at,
            row.agreed_with.name if hasattr(row, "agreed_with") else "",
            row.actor.get_full_name() or row.actor.get_username(),
        )
        for row in rows.order_by("happened_at", "pk")
    )


def of_loss(job_id: int, path: str = "") -> Q:
    """What was promised for a job, and for those that were joined to it: to their callers it is promised still."""
    return Q(**{f"{path}job_id": job_id}) | Q(**{f"{path}job__joined_to_id": job_id})


def _line(row: Promise, zone: ZoneInfo, now: datetime) -> ClockLine:
    job, call = row.job, row.call
    if job is not None and job.joined_to is not None:
        job = job.joined_to
    there = zone if job is None else ZoneInfo(job.time_zone)
    owner = call.owner if call is not None else None
    if job is not None:
        place = f"{job.street}, {job.town}, {job.state}"
    else:
        said = {} if call is None else call.answers
        place = ", ".join(said[part] for part in ("street", "town", "state") if said.get(part)) or "place not known yet"
    return ClockLine(
        row.pk,
        row.kind,
        row.get_kind_display(),
        row.call_id,
        "" if job is None else job.number,
        place,
        row.due_at,
        _due(row.due_at, there, zone, now),
        in_words(due_at=row.due_at, now=now),
        not kept(due_at=row.due_at, happened_at=now),
        row.basis,
        "the crew" if row.visit_id else "the desk" if owner is None else owner.get_full_name() or owner.get_username(),
        row.kind in (Promise.Kind.CONTACT, Promise.Kind.REPORT),
    )


def _due(due_at: datetime, there: ZoneInfo, here: ZoneInfo, now: datetime) -> str:
    """The wall time at the place, with its zone where that is not the desk's, and its day where that is not today."""
    local = due_at.astimezone(there)
    midnight = local.hour == local.minute == 0
    if midnight:
        local_day = local.date().fromordinal(local.date().toordinal() - 1)
        words = f"end of {local_day:%a %b} {local_day.day}"
    else:
        words = f"{local:%I:%M %p}".lstrip("0")
        if local.date() != now.astimezone(there).date():
            words = f"{local:%a %b} {local.day}, {words}"
    differs = local.utcoffset() != due_at.astimezone(here).utcoffset()
    return f"{words} {due_at.astimezone(there):%Z}" if differs else words
