"""A CSV file as plain values: what stands in each cell and on which line, nothing judged yet."""

import csv
import io
from dataclasses import dataclass

from jobs.refusals import Refusal


class SheetUnusable(Refusal):
    """The file cannot be read as a table at all."""

    code = "sheet_unusable"
    status = 422


@dataclass(frozen=True)
class SheetRow:
    """One row: the line of the file on which it ends, its cells by column, and cells beyond the last column."""

    line: int
    cells: dict[str, str]
    too_many: int = 0
    too_few: int = 0


@dataclass(frozen=True)
class Sheet:
    """One file: its name without `.csv`, its columns in order, its rows in order."""

    name: str
    columns: tuple[str, ...]
    rows: tuple[SheetRow, ...]


def text_of(content: bytes, name: str) -> str:
    """
    The file's text.

    :raises SheetUnusable: if it is not UTF-8.
    """
    try:
        # utf-8-sig: spreadsheets write a byte order mark that would become part of the first column's name.
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise SheetUnusable(
            f"{name} is not UTF-8 text (byte {error.start}). Save it as CSV UTF-8.", where=name
        ) from error


def sheet_of(text: str, name: str) -> Sheet:
    """
    The table in a file's text. Blanks around a cell are dropped; empty lines are skipped.

    :raises SheetUnusable: if it is no CSV.
    """
    try:
        reader = csv.reader(io.StringIO(text, newline=""), strict=True)
        columns = tuple(cell.strip() for cell in next(reader, ()))
        rows = tuple(_row(reader.line_num, columns, cells) for cells in reader if any(cell.strip() for cell in cells))
    except csv.Error as error:
        file = f"{name}.csv"
        raise SheetUnusable(
            f"{file} is not a CSV file ({error}). Separate cells by commas; double a quote inside quotes.", where=file
        ) from error
    return Sheet(name, columns, rows)


def _row(line: int, columns: tuple[str, ...], cells: list[str]) -> SheetRow:
    filled = [cell.strip() for cell in cells] + [""] * (len(columns) - len(cells))
    return SheetRow(
        line,
        dict(zip(columns, filled, strict=False)),
        too_many=max(0, len(cells) - len(columns)),
        too_few=max(0, len(columns) - len(cells)),
    )
