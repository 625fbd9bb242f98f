"""Looking over one table: every bad row by file, line, column, with what is wrong and what would be right."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from difflib import get_close_matches
from typing import Any

from equipment.sheets.cells import BadCell, Reader
from equipment.sheets.reading import Sheet, SheetRow
from equipment.sheets.writing import unguarded
from jobs.refusals import Refusal

RowRule = Callable[[Mapping[str, Any]], Iterator[tuple[str, str]]]


class BadRows(Refusal):
    """At least one row cannot be meant. Nothing was imported."""

    code = "bad_rows"
    status = 422


@dataclass(frozen=True)
class Column:
    """One column. `needed`: a row without it is bad. `refers`: the table whose key the value must be."""

    name: str
    read: Reader
    needed: bool = True
    refers: str = ""


@dataclass(frozen=True)
class Table:
    """One file: its columns and the columns that name a row in it, at most once."""

    name: str
    key: tuple[str, ...]
    columns: tuple[Column, ...]

    def column(self, name: str) -> Column | None:
        return next((column for column in self.columns if column.name == name), None)


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


def refuse_bad(problems: Sequence[Problem]) -> None:
    """
    :raises BadRows: if there is any problem; `problems` holds them all.
    """
    if problems:
        lines = [str(problem) for problem in problems]
        raise BadRows(f"To put right before anything is imported: {len(lines)}. The first: {lines[0]}", problems=lines)


def read_rows(sheet: Sheet, table: Table, *, today: date) -> tuple[tuple[GoodRow, ...], tuple[Problem, ...]]:
    """The rows whose every cell can be read, and what is wrong with the header or with the others."""
    if header := tuple(_header_problems(sheet, table)):
        return (), header
    problems: list[Problem] = []
    rows = tuple(_good_rows(sheet, table, today, problems))
    return rows, tuple(problems)


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
        return column.read(unguarded(cell), today)
    if column.needed:
        raise BadCell("is empty; this column is needed in every row")
    return None


def key_of(row: GoodRow, table: Table) -> tuple[str, ...]:
    """What names the row in its table."""
    return tuple("" if row.values[name] is None else str(row.values[name]) for name in table.key)


def repeated(rows: Sequence[GoodRow], table: Table) -> Iterator[Problem]:
    """Rows whose key stands on an earlier line already."""
    first: dict[tuple[str, ...], int] = {}
    for row in rows:
        line = first.setdefault(key_of(row, table), row.line)
        if line != row.line:
            what = " ".join(filter(None, key_of(row, table)))
            yield Problem(
                f"{table.name}.csv", row.line, table.key[0], f"{what} stands on line {line} already; keep one"
            )


def unknown(value: str, named: frozenset[str], where: str) -> str:
    """What to say of a value that `named` does not hold; `where` is the list it should stand in."""
    near = get_close_matches(value, named, n=1, cutoff=0.5)
    return f"{value!r} stands in no row of {where}" + (f"; {near[0]} is meant?" if near else "")
