"""Looking over a whole folder: every bad row by file, line, column, with what is wrong and what would be right."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from difflib import get_close_matches
from typing import Any

from dispatch.imports.cells import BadCell
from dispatch.imports.hours import double_booked
from dispatch.imports.row_rules import ROW_RULES
from dispatch.imports.sheets import Sheet, SheetRow
from dispatch.imports.tables import TABLES, Column, Table

Known = Mapping[str, frozenset[str]]


@dataclass(frozen=True)
class Problem:
    """One thing that stops the import. `line` 1 is the header; `column` "" concerns the whole row."""

    file: str
    line: int
    column: str
    reason: str

    def __str__(self) -> str:
        column = f", {self.column}" if self.column else ""
        return f"{self.file} line {self.line}{column}: {self.reason}"


@dataclass(frozen=True)
class GoodRow:
    """A row whose cells have all been read; a column that is absent or empty holds None."""

    line: int
    values: dict[str, Any]


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
        header = list(_header_problems(sheet, table))
        problems += header
        rows[table.name] = () if header else tuple(_good_rows(sheet, table, today, problems))
    problems += _repeated(rows)
    problems += _dangling(rows, by_name, known)
    for name, rule in ROW_RULES:
        for row in rows[name]:
            problems += [Problem(f"{name}.csv", row.line, column, why) for column, why in rule(row.values)]
    problems += _units_without_place(rows, known)
    problems += _double_booked(rows)
    tables = {table.name for table in TABLES}
    order = {f"{table.name}.csv": position for position, table in enumerate(TABLES)}
    problems.sort(key=lambda problem: (order[problem.file], problem.line))
    return Checked(rows, tuple(problems), tuple(sorted(f"{name}.csv" for name in by_name if name not in tables)))


def _header_problems(sheet: Sheet, table: Table) -> Iterator[Problem]:
    file, names = f"{table.name}.csv", [column.name for column in table.columns]
    for name in sheet.columns:
        if table.column(name) is None:
            near = get_close_matches(name, names, n=1)
            meant = f"; {near[0]} is meant?" if near else f"; columns are: {', '.join(names)}"
            yield Problem(file, 1, name, f"is no column of this file{meant}")
    for name in sorted({name for name in sheet.columns if sheet.columns.count(name) > 1}):
        yield Problem(file, 1, name, "stands twice in the header; keep one")
    for column in table.columns:
        if column.needed and column.name not in sheet.columns:
            yield Problem(file, 1, column.name, "is missing from the header; add this column")


def _good_rows(sheet: Sheet, table: Table, today: date, problems: list[Problem]) -> Iterator[GoodRow]:
    for row in sheet.rows:
        found = list(_shape_problems(row, table))
        values: dict[str, Any] = {}
        for column in table.columns:
            try:
                values[column.name] = _value(row.cells.get(column.name, ""), column, today)
            except BadCell as error:
                found.append(Problem(f"{table.name}.csv", row.line, column.name, str(error)))
        if found:
            problems += found
        else:
            yield GoodRow(row.line, values)


def _shape_problems(row: SheetRow, table: Table) -> Iterator[Problem]:
    if row.too_many:
        yield Problem(
            f"{table.name}.csv",
            row.line,
            "",
            f"has {row.too_many} cells more than the header; put words that hold a comma into quotes",
        )
    if row.too_few:
        yield Problem(f"{table.name}.csv", row.line, "", f"has {row.too_few} cells fewer than the header; add commas")


def _value(cell: str, column: Column, today: date) -> Any:
    if cell:
        return column.read(cell, today)
    if column.needed:
        raise BadCell("is empty; this column is needed in every row")
    return None


def _key(row: GoodRow, table: Table) -> tuple[str, ...]:
    return tuple("" if row.values[name] is None else str(row.values[name]) for name in table.key)


def _repeated(rows: Mapping[str, Sequence[GoodRow]]) -> Iterator[Problem]:
    for table in TABLES:
        first: dict[tuple[str, ...], int] = {}
        for row in rows[table.name]:
            line = first.setdefault(_key(row, table), row.line)
            if line != row.line:
                what = " ".join(filter(None, _key(row, table)))
                yield Problem(
                    f"{table.name}.csv", row.line, table.key[0], f"{what} stands on line {line} already; keep one"
                )


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
                    yield Problem(
                        f"{table.name}.csv", row.line, column.name, _unknown(value, column.refers, named[column.refers])
                    )


def _all_keys(by_name: Mapping[str, Sheet], table: Table) -> frozenset[str]:
    sheet = by_name.get(table.name)
    return frozenset(row.cells.get(table.key[0], "") for row in sheet.rows) if sheet else frozenset()


def _unknown(value: str, table: str, named: frozenset[str]) -> str:
    near = get_close_matches(value, named, n=1, cutoff=0.5)
    return f"{value!r} stands in no row of {table}.csv" + (f"; {near[0]} is meant?" if near else "")


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
                yield Problem(f"{name}.csv", row.line, "place", _unknown(place, table, frozenset(named)))


def _double_booked(rows: Mapping[str, Sequence[GoodRow]]) -> Iterator[Problem]:
    """Nobody has two shifts, and no lead and no vehicle two crews, in the same hours."""
    for name, column in (("shifts", "user_name"), ("crews", "lead"), ("crews", "vehicle")):
        hours = [(row.line, row.values[column], row.values) for row in rows[name]]
        for line, who, first in double_booked(hours):
            yield Problem(f"{name}.csv", line, column, f"{who} is taken in these hours by line {first}; move one")
