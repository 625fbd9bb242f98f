"""
What is made scarcer is locked once, in key order, before it is looked at.

The order of the house: load list, job's holder, units, pools. A pool's lock also guards its reservations. PostgreSQL
locks rows and waits at most `WAIT`; on SQLite the transaction itself (IMMEDIATE) is the lock.
"""

from collections.abc import Iterable

from django.db import OperationalError, connection

from equipment.models import Holder, LoadList, Pool, UnitNow
from jobs.refusals import Busy

WAIT = "5s"


def _wait_at_most() -> None:
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute(f"SET LOCAL lock_timeout = '{WAIT}'")


def _busy(what: str) -> Busy:
    return Busy(f"Others are booking the same {what} at this moment. Nothing was changed; try again.")


def lock_pools(pool_ids: Iterable[int]) -> dict[int, Pool]:
    """
    The pools' rows, locked until the transaction ends. Only what booking looks at is read at once.

    :raises Busy: if another transaction holds one of them for longer than we wait.
    """
    _wait_at_most()
    rows = Pool.objects.select_for_update(of=("self",)).select_related("place__vehicle")
    rows = rows.only("model", "place__vehicle__in_workshop", "stock")
    try:
        return {row.pk: row for row in rows.filter(pk__in=set(pool_ids)).order_by("pk")}
    except OperationalError as error:
        raise _busy("equipment") from error


def lock_units(unit_ids: Iterable[int]) -> dict[int, UnitNow]:
    """
    The units' current rows by unit id, locked until the transaction ends.

    :raises Busy: if another transaction holds one of them for longer than we wait.
    """
    _wait_at_most()
    wanted = UnitNow.objects.filter(unit_id__in=set(unit_ids)).order_by("unit_id")
    if connection.vendor == "postgresql":
        # Locked alone and read afterwards: a joined row that we waited for comes back with its old holder, or not at
        # all, once another call has moved the unit.
        try:
            list(wanted.select_for_update().values_list("pk"))
        except OperationalError as error:
            raise _busy("units") from error
    return {row.unit_id: row for row in wanted.select_related("unit__model", "holder", "reservation")}


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
