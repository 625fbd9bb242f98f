"""Reading numbered units: where they are, their history, what waits to be cleaned, what jobs still have."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Q, QuerySet

from equipment.custody.book import fact_of
from equipment.custody.conditions import WORDS, steps_for
from equipment.models import Condition, Holder, Move, Pool, Unit, UnitNow
from equipment.reservations import book
from equipment.stock.availability import peak_use
from equipment.stock.replay import effective
from jobs.models import Job
from jobs.refusals import NotThere

TONIGHT = timedelta(hours=12)


@dataclass(frozen=True)
class Step:
    """One thing to be done before a unit is ready: the word that says it was done, and its name."""

    word: str
    name: str


@dataclass(frozen=True)
class UnitRow:
    """One unit as it is now. `steps` are what is to be done before it is ready, in order."""

    number: str
    model: str
    kind: str
    condition: str
    condition_name: str
    place: str
    place_kind: str
    job_id: int | None
    room_name: str
    since: datetime
    seen_at: datetime
    seen_by: str
    hour_meter: float | None
    water_category: int | None
    rented: bool
    steps: tuple[Step, ...] = ()


def _rows() -> QuerySet[UnitNow]:
    return UnitNow.objects.select_related("unit__model", "holder__job", "seen_by")


def _row(now: UnitNow) -> UnitRow:
    return UnitRow(
        number=now.unit.number,
        model=now.unit.model.name,
        kind=now.unit.model.kind,
        condition=now.condition,
        condition_name=now.get_condition_display(),
        place=str(now.holder),
        place_kind=now.holder.kind,
        job_id=now.holder.job_id,
        room_name=now.room_name,
        since=now.since,
        seen_at=now.seen_at,
        seen_by=now.seen_by.get_full_name() or now.seen_by.get_username(),
        hour_meter=now.hour_meter,
        water_category=now.water_category,
        rented=now.unit.rented,
        steps=tuple(Step(step, WORDS[step]) for step in steps_for(now)),
    )


def find_units(*, area_id: int, text: str, at_most: int = 50) -> tuple[UnitRow, ...]:
    """Units whose number begins with the text, or whose model or place contains it. One query."""
    text = text.strip()
    found = _rows().filter(holder__area=area_id)
    if text:
        number = Q(unit__number=text.zfill(4)) | Q(unit__number__istartswith=text)
        found = found.filter(number | Q(unit__model__name__icontains=text) | Q(holder__name__icontains=text))
    return tuple(_row(now) for now in found.order_by("unit__number")[:at_most])


@dataclass(frozen=True)
class UnitAtJob:
    """One unit that stands at a job."""

    number: str
    model_id: int
    model: str
    kind: str
    room_name: str
    since: datetime
    hour_meter: float | None
    running_a: float
    condition: str


def units_at_job(job_id: int) -> tuple[UnitAtJob, ...]:
    """What stands at a job, by room. One query."""
    rows = UnitNow.objects.filter(holder__job=job_id).select_related("unit__model")
    return tuple(
        UnitAtJob(
            row.unit.number,
            row.unit.model_id,
            row.unit.model.name,
            row.unit.model.kind,
            row.room_name,
            row.since,
            row.hour_meter,
            row.unit.model.running_a,
            row.condition,
        )
        for row in rows.order_by("room_name", "unit__model__kind", "unit__number")
    )


def units_at_finished_jobs(*, area_id: int, at_most: int = 200) -> tuple[UnitRow, ...]:
    """Units listed at jobs that are dry, picked up or closed: the longest first. One query."""
    finished = [Job.Stage.AT_GOAL, Job.Stage.PICKED_UP, Job.Stage.CLOSED]
    rows = _rows().filter(holder__area=area_id, holder__job__stage__in=finished)
    return tuple(_row(now) for now in rows.order_by("since", "unit__number")[:at_most])


def not_seen_since(*, area_id: int, before: datetime, at_most: int = 100) -> tuple[UnitRow, ...]:
    """Units that nobody has scanned or read since then, the longest unseen first. One query."""
    rows = _rows().filter(holder__area=area_id, seen_at__lt=before).exclude(holder__kind=Holder.Kind.GONE)
    return tuple(_row(now) for now in rows.order_by("seen_at", "unit__number")[:at_most])


def cleaning_queue(*, warehouse_id: int, now: datetime, at_most: int = 100) -> tuple[UnitRow, ...]:
    """
    Units at a warehouse that are not ready: those first of whose model the fewest stay free in the next twelve hours
    (below zero: more are promised than there are), then the longest waiting. What needs repair comes last.

    Three queries.
    """
    rows = list(
        _rows()
        .filter(holder__warehouse=warehouse_id)
        .exclude(condition=Condition.READY)
        .order_by("since", "unit__number")[: at_most * 3]
    )
    free = _free_here(warehouse_id, {row.unit.model_id for row in rows}, now)
    rows.sort(key=lambda row: (row.condition == Condition.BROKEN, free.get(row.unit.model_id, 0), row.since))
    return tuple(_row(row) for row in rows[:at_most])


def _free_here(warehouse_id: int, model_ids: set[int], now: datetime) -> dict[int, int]:
    pools = {
        pk: (model, there - away)
        for pk, model, there, away in Pool.objects.filter(
            place__warehouse=warehouse_id, model__in=model_ids
        ).values_list("pk", "model_id", "stock", "counted_away")
    }
    end = now + TONIGHT
    used = book.uses(set(pools), now=now, not_before=now, until=end)
    return {model: there - peak_use(used[pk], now, end) for pk, (model, there) in pools.items()}


@dataclass(frozen=True)
class HistoryRow:
    """One entry of a unit's history. `counts` is false for an entry that was corrected."""

    move_id: int
    happened_at: datetime
    recorded_at: datetime
    what: str
    from_place: str
    to_place: str
    room_name: str
    condition: str
    by: str
    note: str
    hour_meter: float | None
    counts: bool


@dataclass(frozen=True)
class UnitHistory:
    """A unit and everything that ever happened to it, the last first."""

    unit: UnitRow
    supplier: str
    supplier_number: str
    rows: tuple[HistoryRow, ...]

    @property
    def last_id(self) -> int | None:
        """The entry that counts now: the only one that can still be taken back."""
        return next((row.move_id for row in self.rows if row.counts), None)


def unit_history(number: str, *, at_most: int = 500) -> UnitHistory:
    """
    The whole history of one unit. Two queries.

    :raises NotThere: if no unit has the number.
    """
    now = _rows().filter(unit__number=number).first()
    if now is None:
        raise NotThere(f"No unit has the number {number}. Look it up by model or place.")
    moves = list(
        Move.objects.filter(unit=now.unit)
        .select_related("from_holder", "to_holder", "actor")
        .order_by("-happened_at", "-id")[:at_most]
    )
    counting = {fact.id for fact in effective(fact_of(move) for move in moves)}
    rows = tuple(
        HistoryRow(
            move_id=move.pk,
            happened_at=move.happened_at,
            recorded_at=move.recorded_at,
            what=move.get_why_display(),
            from_place=str(move.from_holder) if move.from_holder else "",
            to_place=str(move.to_holder),
            room_name=move.room_name,
            condition=move.get_condition_after_display(),
            by=move.actor.get_full_name() or move.actor.get_username(),
            note=move.note,
            hour_meter=move.hour_meter,
            counts=move.pk in counting,
        )
        for move in moves
    )
    return UnitHistory(_row(now), now.unit.supplier, now.unit.supplier_number, rows)


@dataclass(frozen=True)
class ReturnsView:
    """What a job should give back, against what is here: "11 expected, 10 here"."""

    job_id: int
    job_number: str
    expected: int
    here: int
    missing: tuple[UnitRow, ...]


def back_from_job(*, job_id: int, warehouse_id: int) -> ReturnsView:
    """Every unit that stood at the job, against those that reached the warehouse or went on from it. Two queries."""
    job = Job.objects.filter(pk=job_id).first()
    if job is None:
        raise NotThere(f"There is no job {job_id}. Search for it by number or street.")
    stood = Unit.objects.filter(moves__to_holder__job=job_id).distinct()
    rows = list(_rows().filter(unit__in=stood).order_by("unit__number"))
    away = [
        row
        for row in rows
        if row.holder.job_id == job_id
        or (row.holder.kind in {Holder.Kind.VEHICLE, Holder.Kind.NOT_FOUND} and row.condition != Condition.READY)
    ]
    return ReturnsView(job.pk, job.number, len(rows), len(rows) - len(away), tuple(_row(row) for row in away))
