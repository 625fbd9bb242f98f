"""Rule data of the ground floor: figures with their source, edition and the days on which they hold."""

import functools
import itertools
import tomllib
from dataclasses import dataclass
from datetime import date
from importlib import resources
from typing import Any

CONFIDENCES = frozenset({"published", "practice", "memory", "demo"})
_WANTED = frozenset({"value", "unit", "source", "edition", "confidence", "valid_from"})


class FigureHole(ValueError):
    """A figure lacks something, names no source, or holds twice on one day."""


@dataclass(frozen=True)
class DatedFigure:
    """One figure with its unit, where it stands, and from when to before when it holds."""

    value: float
    unit: str
    source: str
    edition: str
    confidence: str
    valid_from: date
    valid_until: date | None = None

    def holds(self, on: date) -> bool:
        """Whether it holds on this day."""
        return self.valid_from <= on and (self.valid_until is None or on < self.valid_until)


@functools.cache
def figures() -> dict[str, tuple[DatedFigure, ...]]:
    """
    Every figure by name, its values in the order of their days.

    :raises FigureHole: if a row lacks a key, names no source, or two rows hold on one day.
    """
    return read(resources.files(__name__).joinpath("figures.toml").read_text(encoding="utf-8"))


def figure(name: str, *, on: date) -> float:
    """
    The value of one figure on a day.

    :raises FigureHole: if none holds on that day.
    """
    found = next((row for row in figures()[name] if row.holds(on)), None)
    if found is None:
        raise FigureHole(f"{name}: no value holds on {on}")
    return found.value


def read(text: str) -> dict[str, tuple[DatedFigure, ...]]:
    """
    The figures of a file.

    :raises FigureHole: as `figures` does.
    """
    found = {name: tuple(_row(name, row) for row in rows) for name, rows in tomllib.loads(text).items()}
    for name, rows in found.items():
        for row, following in itertools.pairwise(rows):
            if row.valid_until is None or row.valid_until > following.valid_from:
                raise FigureHole(f"{name}: two values hold on {following.valid_from}")
    return found


def _row(name: str, row: dict[str, Any]) -> DatedFigure:
    if _WANTED - set(row) or set(row) - _WANTED - {"valid_until"}:
        raise FigureHole(f"{name}: {', '.join(sorted(_WANTED ^ set(row)))} is missing or not known")
    if not str(row["source"]).strip() or row["confidence"] not in CONFIDENCES:
        raise FigureHole(f"{name}: name a source and one of {', '.join(sorted(CONFIDENCES))}")
    return DatedFigure(**row)
