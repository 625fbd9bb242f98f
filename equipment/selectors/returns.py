"""What came back here lately, against what the jobs should give back."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from equipment.models import Condition, Holder, Move, UnitNow

LATELY = timedelta(hours=14)
STAYED_AT_MOST = timedelta(days=60)


@dataclass(frozen=True)
class Missing:
    """One unit that stood at the job and is not here."""

    number: str
    model: str
    place: str
    room_name: str
    seen_at: datetime
    seen_by: str


@dataclass(frozen=True)
class JobReturns:
    """One job of which something came back: "11 expected, 10 here"."""

    job_id: int
    job_number: str
    expected: int
    here: int
    missing: tuple[Missing, ...]


def recent_returns(*, warehouse_id: int, now: datetime, at_most: int = 8) -> tuple[JobReturns, ...]:
    """
    The jobs whose units came in here lately, those with something missing first. Four queries.

    A unit is missing while it still stands at the job, or is aboard a vehicle and not yet cleaned.
    """
    came = Move.objects.filter(to_holder__warehouse=warehouse_id, happened_at__gt=now - LATELY).values("unit_id")
    stood = (
        Move.objects.filter(unit__in=came, to_holder__kind=Holder.Kind.JOB, happened_at__gt=now - STAYED_AT_MOST)
        .order_by("-happened_at")
        .values_list("to_holder_id", flat=True)[:2_000]
    )
    holder_ids = list(dict.fromkeys(stood))[:at_most]
    pairs = set(
        Move.objects.filter(to_holder__in=holder_ids, happened_at__gt=now - STAYED_AT_MOST).values_list(
            "to_holder_id", "unit_id"
        )
    )
    units = {
        row.unit_id: row
        for row in UnitNow.objects.filter(unit__in={unit for _, unit in pairs} or {0}).select_related(
            "unit__model", "holder", "seen_by"
        )
    }
    holders = {holder.pk: holder for holder in Holder.objects.filter(pk__in=holder_ids)}
    found = []
    for holder_id in holder_ids:
        rows = [units[unit] for holder, unit in pairs if holder == holder_id and unit in units]
        away = sorted((row for row in rows if _away(row, holder_id)), key=lambda row: row.unit.number)
        missing = tuple(
            Missing(
                row.unit.number,
                row.unit.model.name,
                str(row.holder),
                row.room_name,
                row.seen_at,
                row.seen_by.get_full_name() or row.seen_by.get_username(),
            )
            for row in away
        )
        found.append(
            JobReturns(
                holders[holder_id].job_id or 0, str(holders[holder_id]), len(rows), len(rows) - len(missing), missing
            )
        )
    return tuple(sorted(found, key=lambda job: (not job.missing, job.job_number)))


def _away(row: UnitNow, holder_id: int) -> bool:
    return row.holder_id == holder_id or (
        row.holder.kind in {Holder.Kind.VEHICLE, Holder.Kind.NOT_FOUND} and row.condition != Condition.READY
    )


@dataclass(frozen=True)
class Arrival:
    """One scan in at a warehouse."""

    move_id: int
    number: str
    model: str
    condition: str
    happened_at: datetime


def recent_arrivals(*, warehouse_id: int, now: datetime, at_most: int = 20) -> tuple[Arrival, ...]:
    """What was scanned in here lately, the last first. One query."""
    rows = (
        Move.objects.filter(
            to_holder__warehouse=warehouse_id,
            happened_at__gt=now - LATELY,
            why__in=[Move.Why.UNLOADED, Move.Why.FOUND, Move.Why.RECEIVED, Move.Why.REPAIR],
            corrected_by=None,
        )
        .select_related("unit__model")
        .order_by("-happened_at", "-id")[:at_most]
    )
    return tuple(
        Arrival(row.pk, row.unit.number, row.unit.model.name, row.get_condition_after_display(), row.happened_at)
        for row in rows
    )
