"""The demo company's files as rows, and its clock: minutes from the loading day's midnight."""

import csv
import re
from functools import cache
from pathlib import Path

FOLDER = Path(__file__).parent.parent.parent / "fixtures_demo"
MOMENT = re.compile(r"^(0|[+-]\d{1,3}) ([01]\d|2[0-3]):[0-5]\d$|^now[+-]\d{1,3}m$")
CLOCK = re.compile(r"^([01]\d|2[0-3]):[0-5]\d$")


@cache
def rows(name: str) -> tuple[dict[str, str], ...]:
    with (FOLDER / f"{name}.csv").open(newline="", encoding="utf-8") as handle:
        return tuple(csv.DictReader(handle))


def keys(name: str, column: str) -> set[str]:
    found = [row[column] for row in rows(name)]
    assert len(found) == len(set(found)), f"{name}.csv repeats a {column}"
    return set(found)


def minutes(moment: str) -> int:
    """Minutes from the loading day's local midnight; the demo's days are 1,440 minutes long."""
    day, clock = moment.split(" ")
    hours, rest = clock.split(":")
    return int(day) * 1440 + int(hours) * 60 + int(rest)


def open_jobs() -> list[dict[str, str]]:
    return [job for job in rows("jobs") if job["stage"] != "finished"]
