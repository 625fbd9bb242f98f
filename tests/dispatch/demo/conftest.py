"""A part of the demo company: one job of each fate, and the units that they use."""

import csv
from collections.abc import Iterable
from pathlib import Path

import pytest

from tests.demo_company.tables import FOLDER, rows

FEW_UNITS = 60


def chosen_jobs() -> dict[str, str]:
    """Job number by fate: the first of each stage, the sewage job, the one with a missed visit, the one left open."""
    found: dict[str, str] = {}
    for job in rows("jobs"):
        found.setdefault(job["stage"], job["job"])
        if job["category"] == "3":
            found.setdefault("sewage", job["job"])
    found["missed"] = next(visit["job"] for visit in rows("visits") if visit["state"] == "missed")
    finished = {job["job"] for job in rows("jobs") if job["stage"] == "finished"}
    (found["left"],) = {p["job"] for p in rows("placements") if p["job"] in finished and not p["removed_at"]}
    return found


@pytest.fixture
def part(tmp_path: Path) -> Path:
    """A folder with these jobs alone."""
    return folder_of(set(chosen_jobs().values()), tmp_path)


@pytest.fixture
def no_jobs(tmp_path: Path) -> Path:
    """A folder with the company and no job."""
    return folder_of(set(), tmp_path)


def folder_of(jobs: set[str], tmp_path: Path) -> Path:
    used = {placed["unit"] for placed in rows("placements") if placed["job"] in jobs}
    folder = tmp_path / "company"
    folder.mkdir()
    for path in FOLDER.glob("*.csv"):
        table = list(rows(path.stem))
        if path.stem == "units":
            table = [unit for n, unit in enumerate(table) if n < FEW_UNITS or unit["number"] in used]
        elif "job" in table[0]:
            table = [row for row in table if row["job"] in jobs]
        write(folder / path.name, table, rows(path.stem)[0])
    return folder


def write(path: Path, table: Iterable[dict[str, str]], columns: Iterable[str]) -> None:
    with path.open("w", newline="", encoding="utf-8") as handle:
        writer = csv.DictWriter(handle, list(columns))
        writer.writeheader()
        writer.writerows(table)
