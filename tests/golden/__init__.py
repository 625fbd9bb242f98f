"""Published tables for tests: one CSV each, its source on line 1."""

import csv
from pathlib import Path


def table(name: str) -> list[dict[str, str]]:
    """Rows of a table by column name."""
    lines = (Path(__file__).parent / f"{name}.csv").read_text(encoding="utf-8").splitlines()
    assert lines[0].startswith("# "), f"{name}.csv must name its source on line 1"
    return list(csv.DictReader(lines[1:]))
