"""Looking over a whole folder: every bad row by file, line, column, with what is wrong and what would be right."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from dispatch.imports.hours import double_booked
from dispatch.imports.row_rules import ROW_RULES
from dispatch.imports.tables import TABLES
from equipment.sheets.checking import GoodRow, Problem, Table, read_rows, repeated, unknown
from equipment.sheets.reading import Sheet
from equipment.stock_lists.models_list import EQUIPMENT_MODELS, equivalents_fit

Known = Mapping[str, frozenset[str]]


@dataclass(frozen=True)
class Checked:
    """What a folder holds: rows by table, what is wrong with it, and files that nobody reads."""

    rows: dict[str, tuple[GoodRow, ...]]
    problems: tuple[Problem, ...]
    not_read: tuple[str, ...]


def check(sheets: Sequence[Sheet], *, today: date, known: Known) -> Checked:
    """
    Read every cell, then judge rows together.

    :param known: keys that are already in the database, by table: they may be referred to as well.
    """
    by_name = {sheet.name: sheet for sheet in sheets}
    problems: list[Problem] = []
    rows: dict[str, tuple[GoodRow, ...]] = {}
    for table in TABLES:
        sheet = by_name.get(table.name)
        if sheet is None:
            rows[table.name] = ()
            continue
        rows[table.name], bad = read_rows(sheet, table, today=today)
        problems += bad
    for table in TABLES:
        problems += repeated(rows[table.name], table)
    problems += _dangling(rows, by_name, known)
    for name, rule in ROW_RULES:
        for row in rows[name]:
            problems += [Problem(f"{name}.csv", row.line, column, why) for column, why in rule(row.values)]
    problems += _units_without_place(rows, known)
    problems += _double_booked(rows)
    models = EQUIPMENT_MODELS.name
    if models in by_name:
        named = known.get(models, frozenset()) | _all_keys(by_name, EQUIPMENT_MODELS)
        problems += equivalents_fit(rows[models], named)
    tables = {table.name for table in TABLES}
    order = {f"{table.name}.csv": position for position, table in enumerate(TABLES)}
    problems.sort(key=lambda problem: (order[problem.file], problem.line))
    return Checked(rows, tuple(problems), tuple(sorted(f"{name}.csv" for name in by_name if name not in tables)))


def _dangling(rows: Mapping[str, Sequence[GoodRow]], by_name: Mapping[str, Sheet], known: Known) -> Iterator[Problem]:
    # A row that is bad in another cell still names its key: its dependents are not to blame.
    named = {table.name: known.get(table.name, frozenset()) | _all_keys(by_name, table) for table in TABLES}
    for table in TABLES:
        for column in table.columns:
            if not column.refers:
                continue
            for row in rows[table.name]:
                value = row.values[column.name]
                if value is not None and value not in named[column.refers]:
                    why = unknown(value, named[column.refers], f"{column.refers}.csv")
                    yield Problem(f"{table.name}.csv", row.line, column.name, why)


def _all_keys(by_name: Mapping[str, Sheet], table: Table) -> frozenset[str]:
    sheet = by_name.get(table.name)
    return frozenset(row.cells.get(table.key[0], "") for row in sheet.rows) if sheet else frozenset()


def _units_without_place(rows: Mapping[str, Sequence[GoodRow]], known: Known) -> Iterator[Problem]:
    """A unit's place (like an accessory's) is a warehouse or a vehicle, as its holder says."""
    places = {
        name: known.get(table, frozenset()) | {row.values["code"] for row in rows[table]}
        for name, table in (("warehouse", "warehouses"), ("vehicle", "vehicles"))
    }
    for name in ("units", "accessory_stock"):
        for row in rows[name]:
            holder, place = row.values["holder"], row.values["place"]
            named = places.get(holder, places["warehouse"])
            if place not in named:
                table = "vehicles" if holder == "vehicle" else "warehouses"
                yield Problem(f"{name}.csv", row.line, "place", unknown(place, frozenset(named), f"{table}.csv"))


def _double_booked(rows: Mapping[str, Sequence[GoodRow]]) -> Iterator[Problem]:
    """Nobody has two shifts, and no lead and no vehicle two crews, in the same hours."""
    for name, column in (("shifts", "user_name"), ("crews", "lead"), ("crews", "vehicle")):
        hours = [(row.line, row.values[column], row.values) for row in rows[name]]
        for line, who, first in double_booked(hours):
            yield Problem(f"{name}.csv", line, column, f"{who} is taken in these hours by line {first}; move one")
