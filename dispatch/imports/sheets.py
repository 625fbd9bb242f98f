"""A folder of CSV files as plain values: what stands in each cell and on which line, nothing judged yet."""

from pathlib import Path

from equipment.sheets.reading import Sheet, SheetUnusable, sheet_of, text_of
from jobs.refusals import Refusal


class FolderUnusable(Refusal):
    """The folder, or one of its files, cannot be read at all."""

    code = "folder_unusable"
    status = 422


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
        return sheet_of(text_of(path.read_bytes(), path.name), path.stem)
    except SheetUnusable as unusable:
        raise FolderUnusable(unusable.message, where=path.name) from unusable
