"""A folder of CSV files as plain values: what stands in each cell and on which line, nothing judged yet."""

import csv
from dataclasses import dataclass
from pathlib import Path

from jobs.refusals import Refusal


class FolderUnusable(Refusal):
    """The folder, or one of its files, cannot be read at all."""

    code = "folder_unusable"
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


def read_folder(folder: Path) -> tuple[Sheet, ...]:
    """
    Every CSV file of a folder, by name. Blanks around a cell are dropped; empty lines are skipped.

    :raises FolderUnusable: if there is no such folder, no CSV file in it, or a file is not UTF-8 text.
    """
    if not folder.is_dir():
        raise FolderUnusable(f"{folder} is no folder. Give the folder that holds people.csv, vehicles.csv and so on.")
    files = sorted(folder.glob("*.csv"))
    if not files:
        raise FolderUnusable(f"{folder} holds no CSV file. Its files are named people.csv, vehicles.csv and so on.")
    return tuple(_read(path) for path in files)


def _read(path: Path) -> Sheet:
    try:
        # utf-8-sig: spreadsheets write a byte order mark that would become part of the first column's name.
        with path.open(newline="", encoding="utf-8-sig") as handle:
            reader = csv.reader(handle, strict=True)
            columns = tuple(cell.strip() for cell in next(reader, ()))
            rows = tuple(
                _row(reader.line_num, columns, cells) for cells in reader if any(cell.strip() for cell in cells)
            )
    except UnicodeDecodeError as error:
        raise FolderUnusable(
            f"{path.name} is not UTF-8 text (byte {error.start}). Save it as CSV UTF-8.", where=path.name
        ) from error
    except csv.Error as error:
        raise FolderUnusable(
            f"{path.name} is not a CSV file ({error}). Separate cells by commas; double a quote inside quotes.",
            where=path.name,
        ) from error
    return Sheet(path.stem, columns, rows)


def _row(line: int, columns: tuple[str, ...], cells: list[str]) -> SheetRow:
    filled = [cell.strip() for cell in cells] + [""] * (len(columns) - len(cells))
    return SheetRow(
        line,
        dict(zip(columns, filled, strict=False)),
        too_many=max(0, len(cells) - len(columns)),
        too_few=max(0, len(columns) - len(cells)),
    )
