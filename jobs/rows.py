"""
Few rows of the tables that every booking and every scan writes.

The ORM builds a statement's text anew for each row, which takes a booking more time than the statement itself. Here
the text is made once for each table, with the same columns, values and checks of the database as the ORM's.
"""

from collections.abc import Sequence
from datetime import datetime
from functools import cache
from typing import Any

from django.db import connection
from django.db.models import Field, Model


def insert(*rows: Model, conflict: str = "") -> list[int]:
    """
    Insert new rows of one model with one statement; each gets its key, unless it was given one.

    `conflict` is what follows ON CONFLICT: the columns of a unique index, and what is done about a row that is there
    already. Returns the keys of the rows written, in their order; with DO NOTHING a row that was there has none.
    """
    model = type(rows[0])
    keyed = rows[0].pk is not None
    values = [_value(field, row, adding=True) for row in rows for field in _columns(model, keyed)]
    with connection.cursor() as cursor:
        cursor.execute(_insert_text(model, keyed, len(rows), conflict, connection.vendor), values)
        keys = [key for (key,) in cursor.fetchall()]
    if len(keys) == len(rows):
        for row, key in zip(rows, keys, strict=True):
            row.pk, row._state.adding, row._state.db = key, False, connection.alias
    return keys


def update(row: Model, *names: str) -> None:
    """
    Store some fields of a row.

    :raises LookupError: if the row is not there.
    """
    model = type(row)
    fields = [model._meta.get_field(name) for name in names]
    values = [_value(field, row, adding=False) for field in fields]
    with connection.cursor() as cursor:
        cursor.execute(_update_text(model, names, connection.vendor), [*values, row.pk])
        if cursor.rowcount != 1:
            raise LookupError(f"there is no {model._meta.verbose_name} {row.pk}")


def execute(text: str, values: Sequence[Any]) -> int:
    """Run a statement that answers with no rows; how many it changed."""
    with connection.cursor() as cursor:
        cursor.execute(text, values)
        return int(cursor.rowcount)


def select(text: str, values: Sequence[Any], *, times: Sequence[int] = ()) -> list[tuple[Any, ...]]:
    """What a query answers; `times` are the places of its columns that are times. Those asked for: `as_stored`."""
    with connection.cursor() as cursor:
        cursor.execute(text, values)
        found: list[tuple[Any, ...]] = cursor.fetchall()
    if connection.vendor == "postgresql" or not times:
        return found
    read = connection.ops.convert_datetimefield_value  # type: ignore[attr-defined]
    return [
        tuple(read(value, None, connection) if place in times else value for place, value in enumerate(row))
        for row in found
    ]


def as_stored(when: datetime) -> Any:
    """A time as a query's text takes it."""
    return connection.ops.adapt_datetimefield_value(when)


def next_keys(model: type[Model], wanted: int) -> Sequence[int]:
    """
    Keys for rows that are still to be written, for what must name a row before it is there.

    On SQLite the transaction keeps others from taking the same ones.
    """
    table = model._meta.db_table
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            said = "SELECT nextval(pg_get_serial_sequence(%s, %s)) FROM generate_series(1, %s)"
            cursor.execute(said, [_quoted(table), model._meta.pk.column, wanted])
            return [key for (key,) in cursor.fetchall()]
        cursor.execute("SELECT seq FROM sqlite_sequence WHERE name = %s", [table])
        found = cursor.fetchone()
    first = found[0] + 1 if found is not None else 1
    return range(first, first + wanted)


def _value(field: Any, row: Model, *, adding: bool) -> Any:
    return field.get_db_prep_save(field.pre_save(row, adding), connection)


@cache
def _columns(model: type[Model], keyed: bool) -> tuple["Field[Any, Any]", ...]:
    return tuple(field for field in model._meta.concrete_fields if keyed or not field.primary_key)


@cache
def _insert_text(model: type[Model], keyed: bool, rows: int, conflict: str, vendor: str) -> str:
    columns = _columns(model, keyed)
    one = f"({', '.join(['%s'] * len(columns))})"
    return (
        f"INSERT INTO {_quoted(model._meta.db_table)} ({', '.join(_quoted(field.column) for field in columns)}) "
        f"VALUES {', '.join([one] * rows)}{conflict and ' ON CONFLICT ' + conflict} "
        f"RETURNING {_quoted(model._meta.pk.column)}"
    )


@cache
def _update_text(model: type[Model], names: tuple[str, ...], vendor: str) -> str:
    meta: Any = model._meta
    columns = [_quoted(meta.get_field(name).column) for name in names]
    changes = ", ".join(f"{column} = %s" for column in columns)
    return f"UPDATE {_quoted(meta.db_table)} SET {changes} WHERE {_quoted(meta.pk.column)} = %s"


def _quoted(name: Any) -> str:
    return connection.ops.quote_name(name)
