"""
What is made scarcer is locked once, in key order, before it is looked at.

The order of the house: load list, job's holder, units, pools. A pool's lock also guards its reservations. PostgreSQL
locks rows and waits at most `WAIT`; on SQLite the transaction itself (IMMEDIATE) is the lock.
"""

from collections.abc import Iterable

from django.db import OperationalError, connection

from equipment.models import Holder, LoadList, Pool, UnitNow, Vehicle
from jobs import rows
from jobs.refusals import Busy

WAIT = "5s"


def _wait_at_most() -> None:
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute(f"SET LOCAL lock_timeout = '{WAIT}'")


def _busy(what: str) -> Busy:
    return Busy(f"Others are booking the same {what} at this moment. Nothing was changed; try again.")


def lock_pools(pool_ids: Iterable[int], *, of_models: Iterable[int] = (), at: Holder | None = None) -> dict[int, Pool]:
    """
    The pools' rows, and those of the models at a place, locked until the transaction ends.

    Only what booking looks at is read at once.

    :raises Busy: if another transaction holds one of them for longer than we wait.
    """
    _wait_at_most()
    asked, models = sorted(set(pool_ids)), sorted(set(of_models)) if at is not None else []
    which = [f"pool.id IN ({', '.join(['%s'] * len(asked))})"] if asked else []
    if models:
        which.append(f"pool.place_id = %s AND pool.model_id IN ({', '.join(['%s'] * len(models))})")
    if not which:
        return {}
    locking = " FOR UPDATE OF pool" if connection.vendor == "postgresql" else ""
    text = f"{_POOLS} WHERE {' OR '.join(which)} ORDER BY pool.id{locking}"
    try:
        found = rows.select(text, [*asked, *([at.pk, *models] if at is not None and models else [])])
    except OperationalError as error:
        raise _busy("equipment") from error
    return {row[0]: _pool(*row) for row in found}


_POOLS = (
    "SELECT pool.id, pool.model_id, pool.place_id, pool.stock, pool.counted_away, vehicle.id, vehicle.in_workshop "
    "FROM equipment_pool AS pool JOIN equipment_holder AS holder ON holder.id = pool.place_id "
    "LEFT JOIN equipment_vehicle AS vehicle ON vehicle.id = holder.vehicle_id"
)


def _pool(pk: int, model: int, place: int, stock: int, away: int, vehicle: int | None, in_workshop: bool) -> Pool:
    """The row as the ORM would make it, without its way to the statement; the rest of the place is read when asked."""
    using = connection.alias
    pool = Pool.from_db(using, ("id", "model_id", "place_id", "stock", "counted_away"), (pk, model, place, stock, away))
    pool.place = Holder.from_db(using, ("id", "vehicle_id"), (place, vehicle))
    if vehicle is not None:
        pool.place.vehicle = Vehicle.from_db(using, ("id", "in_workshop"), (vehicle, bool(in_workshop)))
    return pool


def lock_units(numbers: Iterable[str]) -> dict[str, UnitNow]:
    """
    The current rows of the units with these numbers, locked until the transaction ends; unknown numbers have none.

    :raises Busy: if another transaction holds one of them for longer than we wait.
    """
    _wait_at_most()
    asked = sorted(set(numbers))
    if connection.vendor == "postgresql":
        # Locked alone and read afterwards: a joined row that we waited for comes back with its old holder, or not at
        # all, once another call has moved the unit.
        try:
            rows.select(_LOCK_UNITS.format(numbers=", ".join(["%s"] * len(asked))), asked)
        except OperationalError as error:
            raise _busy("units") from error
    wanted = UnitNow.objects.filter(unit__number__in=asked)
    return {row.unit.number: row for row in wanted.select_related("unit__model", "holder", "reservation")}


_LOCK_UNITS = (
    "SELECT now.unit_id FROM equipment_unitnow AS now JOIN equipment_unit AS unit ON unit.id = now.unit_id "
    "WHERE unit.number IN ({numbers}) ORDER BY now.unit_id FOR UPDATE OF now"
)


def lock_load_list(load_list_id: int) -> LoadList | None:
    """
    The load list's row, locked until the transaction ends; None if there is none.

    :raises Busy: if another transaction holds it for longer than we wait.
    """
    _wait_at_most()
    try:
        return LoadList.objects.select_for_update().filter(pk=load_list_id).first()
    except OperationalError as error:
        raise _busy("load list") from error


def lock_holder(holder_id: int) -> None:
    """
    The holder's row, locked until the transaction ends: taken before its units by whoever places or closes.

    :raises Busy: if another transaction holds it for longer than we wait.
    """
    _wait_at_most()
    try:
        Holder.objects.select_for_update().filter(pk=holder_id).first()
    except OperationalError as error:
        raise _busy("job") from error
