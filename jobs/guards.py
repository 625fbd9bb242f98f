"""
What the database itself refuses: changing or deleting a row of a ledger, and overlapping periods of one thing.

A model whose class has `append_only = True` gets triggers that refuse UPDATE and DELETE. Triggers are made after every
migrate, because Django rebuilds SQLite tables for most alterations and loses them.
"""

from collections.abc import Iterator
from typing import Any

from django.apps import apps
from django.db import connections, models, transaction

from jobs.no_overlap import NoOverlap

_PG_FUNCTION = """
CREATE OR REPLACE FUNCTION ebbline_refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN RAISE EXCEPTION '% rows are never changed or deleted', TG_TABLE_NAME USING ERRCODE = '23514'; END $$
"""


def append_only_models() -> tuple[type[models.Model], ...]:
    """Every ledger model of the project."""
    return tuple(model for model in apps.get_models() if getattr(model, "append_only", False))


def install(using: str = "default") -> None:
    """Make all triggers anew."""
    connection = connections[using]
    tables = set(connection.introspection.table_names())
    with transaction.atomic(using=using), connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(_PG_FUNCTION)
        for statement in _statements(connection, tables):
            cursor.execute(statement)


def remove(using: str = "default") -> None:
    """Take the ledgers' triggers away: for restoring a backup and for emptying a test database, never in service."""
    connection = connections[using]
    with connection.cursor() as cursor:
        for model in append_only_models():
            table = model._meta.db_table
            for name in _names(table):
                on = f' ON "{table}"' if connection.vendor == "postgresql" else ""
                cursor.execute(f'DROP TRIGGER IF EXISTS "{name}"{on}')


def _names(table: str) -> tuple[str, str, str]:
    return f"{table}_no_update", f"{table}_no_delete", f"{table}_no_truncate"


def _statements(connection: Any, tables: set[str]) -> Iterator[str]:
    postgresql = connection.vendor == "postgresql"
    for model in append_only_models():
        table = model._meta.db_table
        if table not in tables:
            continue
        for name, event in zip(_names(table), ("UPDATE", "DELETE", "TRUNCATE"), strict=True):
            if postgresql:
                each = "STATEMENT" if event == "TRUNCATE" else "ROW"
                yield f'DROP TRIGGER IF EXISTS "{name}" ON "{table}"'
                yield (
                    f'CREATE TRIGGER "{name}" BEFORE {event} ON "{table}" '
                    f"FOR EACH {each} EXECUTE FUNCTION ebbline_refuse_change()"
                )
            elif event != "TRUNCATE":
                yield f'DROP TRIGGER IF EXISTS "{name}"'
                yield (
                    f'CREATE TRIGGER "{name}" BEFORE {event} ON "{table}" '
                    f"BEGIN SELECT RAISE(ABORT, '{table} rows are never changed or deleted'); END"
                )
    if not postgresql:
        for model in apps.get_models():
            for constraint in model._meta.constraints:
                if isinstance(constraint, NoOverlap) and model._meta.db_table in tables:
                    yield from constraint.trigger_sql(model)
