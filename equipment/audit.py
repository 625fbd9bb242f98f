"""Auditing both ledgers: read in one snapshot, replay from the entries alone, name every difference."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from typing import Any

from django.db import connection, transaction
from django.utils import timezone

from equipment import alarms, seals
from equipment.models import Holder, Move, Pool, Reservation, ReservationEntry, Unit, UnitNow
from equipment.stock.audit import Books, Difference, PromiseRow, Sealed, UnitRow, differences
from equipment.stock.replay import EntryFact, MoveFact, UnitState
from jobs import due_work
from jobs.models import Area
from jobs.people import system_user

NIGHTLY = "equipment.audit_ledgers"
CHUNK = 5_000
QUIET_HOUR = 3


def audit() -> tuple[Difference, ...]:
    """Every difference between the ledgers' entries and the current rows; empty: all is well."""
    with _snapshot():
        books = _books()
    return differences(books)


@contextmanager
def _snapshot() -> Iterator[None]:
    """One state of the database for all queries, without keeping anybody from writing."""
    if connection.in_atomic_block:
        yield
    elif connection.vendor == "postgresql":
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
            yield
    else:
        # A plain BEGIN, since Django's own would take the write lock (IMMEDIATE) for as long as the audit reads.
        with connection.cursor() as cursor:
            cursor.execute("BEGIN")
            try:
                yield
            finally:
                cursor.execute("COMMIT")


def _books() -> Books:
    pools = {pk: (model, place) for pk, model, place in Pool.objects.values_list("pk", "model_id", "place_id")}
    sealed: dict[tuple[str, int], Sealed] = {}
    moves = tuple(_moves(sealed))
    promises, fixed = _promises(pools)
    entries = tuple(_entries(sealed, fixed))
    return Books(
        moves=moves,
        entries=entries,
        units=_units(pools),
        promises=promises,
        stock={pools[pk]: stock for pk, stock in Pool.objects.values_list("pk", "stock")},
        holder_kinds=dict(Holder.objects.values_list("pk", "kind")),
        seals=sealed,
    )


def _moves(sealed: dict[tuple[str, int], Sealed]) -> Iterator[MoveFact]:
    at = {name: position for position, name in enumerate(seals.MOVE_COLUMNS)}
    rows = Move.objects.order_by("pk").values_list("pk", "seal", *seals.MOVE_COLUMNS)
    for pk, mark, *values in rows.iterator(CHUNK):
        sealed["unit", pk] = Sealed(tuple(values), mark, values[at["from_holder_id"]])
        yield MoveFact(
            id=pk,
            unit=values[at["unit_id"]],
            holder=values[at["to_holder_id"]],
            room_name=values[at["room_name"]],
            condition=values[at["condition_after"]],
            reservation=values[at["reservation_id"]],
            water_category=values[at["water_category"]],
            happened_at=values[at["happened_at"]],
            corrects=values[at["corrects_id"]],
        )


def _entries(sealed: dict[tuple[str, int], Sealed], fixed: dict[int, tuple[Any, ...]]) -> Iterator[EntryFact]:
    at = {name: position for position, name in enumerate(seals.ENTRY_COLUMNS)}
    rows = ReservationEntry.objects.order_by("pk").values_list("pk", "seal", *seals.ENTRY_COLUMNS)
    for pk, mark, *values in rows.iterator(CHUNK):
        promise = values[at["reservation_id"]]
        sealed["promise", pk] = Sealed((*fixed.get(promise, ()), *values), mark)
        yield EntryFact(
            id=pk,
            reservation=promise,
            kind=values[at["kind"]],
            quantity=values[at["quantity"]],
            drawn=values[at["drawn"]],
            starts_at=values[at["starts_at"]],
            ends_at=values[at["ends_at"]],
            keep_until=values[at["keep_until"]],
        )


def _units(pools: dict[int, tuple[int, int]]) -> dict[int, UnitRow]:
    models = dict(Unit.objects.values_list("pk", "model_id"))
    columns = ("holder_id", "room_name", "condition", "reservation_id", "water_category", "since")
    found = {}
    for unit, pool, mark, *state in UnitNow.objects.values_list("unit_id", "pool_id", "seal", *columns).iterator(CHUNK):
        found[unit] = UnitRow(unit, models[unit], UnitState(*state), pools.get(pool), mark)
    return found


def _promises(
    pools: dict[int, tuple[int, int]],
) -> tuple[dict[int, PromiseRow], dict[int, tuple[Any, ...]]]:
    columns = ("state", "quantity", "drawn", "starts_at", "ends_at", "keep_until", "seal")
    rows = Reservation.objects.values_list("pk", *seals.PROMISE_COLUMNS, *columns)
    found, fixed = {}, {}
    width = len(seals.PROMISE_COLUMNS)
    for pk, *values in rows.iterator(CHUNK):
        fixed[pk] = tuple(values[:width])
        found[pk] = PromiseRow(pk, pools[values[0]], *values[width:])
    return found, fixed


def nightly(*, now: datetime, work_id: int) -> int:
    """Audit, raise an alarm in every area if anything differs, and set the next night's audit."""
    schedule(now=now)
    found = audit()
    if found:
        first = found[0]
        text = (
            f"The equipment records do not agree with their entries: {len(found)} differences, the first about "
            f"{first.what} {first.which}. Ask the manager to run audit_ledgers before relying on the counts."
        )
        with transaction.atomic():
            for area in Area.objects.all():
                alarms.raise_alarm(kind="audit", text=text, area_id=area.pk, actor=system_user(), now=now)
    return len(found)


def schedule(*, now: datetime) -> None:
    """Let the next audit run in the quiet hour of the coming night; asking again changes nothing."""
    local = timezone.localtime(now)
    at = local.replace(hour=QUIET_HOUR, minute=0, second=0, microsecond=0)
    if at <= local:
        at += timedelta(days=1)
    due_work.enqueue(kind=NIGHTLY, arguments={}, due_at=at, now=now, coalesce=NIGHTLY)


def register() -> None:
    """Tell the runner who does this work; an audit of years of entries takes a minute."""
    due_work.register(NIGHTLY, nightly, lease=timedelta(minutes=15), queue="plan")
    due_work.register_standing(schedule)
