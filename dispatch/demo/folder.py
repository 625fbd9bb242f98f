"""The demo company's folder: master data as sheets for the import, the jobs' story as rows by job."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from dispatch.imports.sheets import read_folder
from dispatch.imports.tables import TABLES
from equipment.sheets.reading import Sheet

Row = Mapping[str, str]
STORY = (
    "contacts",
    "rooms",
    "room_materials",
    "wall_runs",
    "visits",
    "placements",
    "air_readings",
    "material_points",
    "material_readings",
    "meter_readings",
)


@dataclass(frozen=True)
class DemoFolder:
    """Everything that was read."""

    sheets: tuple[Sheet, ...]

    @classmethod
    def read(cls, path: Path) -> "DemoFolder":
        """
        :raises FolderUnusable: if it cannot be read.
        """
        return cls(read_folder(path))

    @cached_property
    def company(self) -> tuple[Sheet, ...]:
        """What the import reads."""
        names = {table.name for table in TABLES}
        return tuple(sheet for sheet in self.sheets if sheet.name in names)

    def rows(self, name: str) -> Sequence[Row]:
        """The rows of one file, in order."""
        return [row.cells for sheet in self.sheets if sheet.name == name for row in sheet.rows]

    @cached_property
    def jobs(self) -> tuple[dict[str, list[dict[str, str]]], ...]:
        """Each job with its story: `job` holds its own row, the others what belongs to it, by file."""
        parts = {name: self._by_job(name) for name in STORY}
        return tuple(
            {"job": [dict(row)], **{name: rows.get(row["job"], []) for name, rows in parts.items()}}
            for row in self.rows("jobs")
        )

    def _by_job(self, name: str) -> dict[str, list[dict[str, str]]]:
        found: dict[str, list[dict[str, str]]] = defaultdict(list)
        for row in self.rows(name):
            found[row["job"]].append(dict(row))
        return found
