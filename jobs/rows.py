"""
Few rows of the tables that every booking and every scan writes.

The ORM builds a statement's text anew for each row, which takes a booking more time than the statement itself. Here
the text is made once for each table, with the same columns, values and checks of the database as the ORM's.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from typing import Any

from django.db import connection
from django.db.models import Field, Model


@dataclass(frozen=True)
class Insert:
    """
    New rows of one model, with or without keys of their own; at least one.

    `conflict` is what follows ON CONFLICT: the columns of a unique index, and what is done about a row that is there
    already.
    """

    rows: Sequence[Model]
    conflict: str = ""


def insert(*rows: Model, conflict: str = "") -> list[int]:
    """As `insert_together`, for the rows of one model."""
    return insert_together(Insert(rows, conflict))


def insert_together(*inserts: Insert) -> list[int]:
    """
    Insert rows of one or more models: on PostgreSQL with one statement, so that a lock is held for less long.

    Returns the keys of the last model's rows that were written, in their order, and gives them to these rows; with
    DO NOTHING a row that was there has none.
    """
    if connection.vendor == "postgresql" or len(inserts) == 1:
        return _insert(inserts)
    return [_insert([one]) for one in inserts][-1]


def _insert(inserts: Sequence[Insert]) -> list[int]:
    shape = tuple((type(one.rows[0]), one.rows[0].pk is not None, len(one.rows), one.conflict) for one in inserts)
    values = [
        _value(field, row, adding=True)
        for one in inserts
        for row in one.rows
        for field in _columns(type(row), one.rows[0].pk is not None)
    ]
    with connection.cursor() as cursor:
        cursor.execute(_insert_text(shape, connection.vendor), values)
        keys = [key for (key,) in cursor.fetchall()]
    for one in inserts:
        given = keys if one is inserts[-1] else [row.pk for row in one.rows]
        if len(given) == len(one.rows):
            for row, key in zip(one.rows, given, strict=True):
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
        try:
            cursor.execute(text, values)
        except OverflowError:
            # SQLite's driver takes no number of more than 64 bits; no row has one.
            return []
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
def _insert_text(shape: tuple[tuple[type[Model], bool, int, str], ...], vendor: str) -> str:
    *others, last = (_one_insert(*one) for one in shape)
    named = ", ".join(f"insert_{n} AS ({text})" for n, text in enumerate(others))
    return f"{named and f'WITH {named} '}{last} RETURNING {_quoted(shape[-1][0]._meta.pk.column)}"


def _one_insert(model: type[Model], keyed: bool, rows: int, conflict: str) -> str:
    columns = _columns(model, keyed)
    one = f"({', '.join(['%s'] * len(columns))})"
    return (
        f"INSERT INTO {_quoted(model._meta.db_table)} ({', '.join(_quoted(field.column) for field in columns)}) "
        f"VALUES {', '.join([one] * rows)}{conflict and ' ON CONFLICT ' + conflict}"
    )


@cache
def _update_text(model: type[Model], names: tuple[str, ...], vendor: str) -> str:
    meta: Any = model._meta
    columns = [_quoted(meta.get_field(name).column) for name in names]
    changes = ", ".join(f"{column} = %s" for column in columns)
    return f"UPDATE {_quoted(meta.db_table)} SET {changes} WHERE {_quoted(meta.pk.column)} = %s"


def _quoted(name: Any) -> str:
    return connection.ops.quote_name(name)
