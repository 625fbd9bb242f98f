"""How many days a wet material usually takes to dry, before there are readings to say better."""

import math
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any, NamedTuple


class UnknownMaterial(ValueError):
    """A material or covering for which the table holds no row."""

    code = "unknown_material"


class BadDaysTable(ValueError):
    """A table of days with a hole, or with figures out of order."""

    code = "bad_days_table"


@dataclass(frozen=True, slots=True)
class Figure:
    """One row of the table, with what it rests on."""

    low: float
    likely: float
    high: float
    source: str
    confidence: str
    taken_as: str | None = None
    """The material whose days it borrows, having none of its own."""


@dataclass(frozen=True, slots=True)
class DaysTable:
    name: str
    materials: Mapping[str, Figure]
    covering_slows_by: Mapping[str, float]
    vapor_barrier_slows_by: float


class WetMaterial(NamedTuple):
    """A wet material as found: words of the table, ``covering`` the face that the moisture must pass."""

    material: str
    covering: str = "none"
    vapor_barrier: bool = False


@dataclass(frozen=True, slots=True)
class DaysRange:
    """Days from the start of drying, whole, with the material that sets them."""

    low: int
    likely: int
    high: int
    slowest: str
    """The word of the slowest material."""
    why: str
    """How the slowest came to its days, for a crew lead to read."""
    source: str


def drying_days(
    materials: Iterable[WetMaterial | tuple[str, str, bool]], table: DaysTable | None = None
) -> DaysRange | None:
    """
    The range of days that the wet materials of a chamber usually take together, or None if nothing is wet.

    Materials dry side by side, so each of the three figures is the largest of its kind; the slowest is the one with
    the most likely days (then high, then low days, then its name). A covering or a vapor barrier slows a material
    by the greater of the two factors: no figure is known for both at once.

    :raises UnknownMaterial: if the table has no such material or covering.
    """
    table = table or default_table()
    ranges = [_range_of(WetMaterial(*wet), table) for wet in materials]
    if not ranges:
        return None
    slowest = min(ranges, key=lambda r: (-r.likely, -r.high, -r.low, r.slowest, r.why))
    return DaysRange(
        low=max(r.low for r in ranges),
        likely=slowest.likely,
        high=max(r.high for r in ranges),
        slowest=slowest.slowest,
        why=slowest.why,
        source=slowest.source,
    )


def _range_of(wet: WetMaterial, table: DaysTable) -> DaysRange:
    figure = table.materials.get(wet.material)
    if figure is None:
        raise UnknownMaterial(f"{wet.material!r} is not a material; give one of {', '.join(sorted(table.materials))}.")
    covering = table.covering_slows_by.get(wet.covering)
    if covering is None:
        known = ", ".join(sorted(table.covering_slows_by))
        raise UnknownMaterial(f"{wet.covering!r} is not a covering; give one of {known}.")
    barrier = table.vapor_barrier_slows_by if wet.vapor_barrier else 1.0
    by = max(covering, barrier)
    low, likely, high = (math.ceil(days * by - 1e-9) for days in (figure.low, figure.likely, figure.high))
    return DaysRange(low, likely, high, wet.material, _why(wet, figure, by, barrier >= covering), figure.source)


def _why(wet: WetMaterial, figure: Figure, by: float, barrier_rules: bool) -> str:
    why = wet.material.replace("_", " ")
    if figure.taken_as:
        why += f" (taken as {figure.taken_as.replace('_', ' ')})"
    why += f": {figure.low:g}, {figure.likely:g}, {figure.high:g} days"
    if by > 1:
        reason = "a vapor barrier" if barrier_rules else wet.covering.replace("_", " ")
        why += f", times {by:g} for {reason}"
    return why


@cache
def default_table() -> DaysTable:
    """The table that ships with the program (``figures/drying_days.toml``)."""
    text = files("jobs.science").joinpath("figures", "drying_days.toml").read_text(encoding="utf-8")
    return read_table(tomllib.loads(text))


def read_table(data: Mapping[str, Any]) -> DaysTable:
    """
    A table from its file's content.

    :raises BadDaysTable: naming the row, if a figure, a source or a confidence is missing or out of order.
    """
    rows: Mapping[str, Mapping[str, Any]] = data.get("materials", {})
    return DaysTable(
        name=str(data.get("name", "")),
        materials={material: _figure(material, rows) for material in rows},
        covering_slows_by={c: _factor(f"coverings.{c}", row) for c, row in data.get("coverings", {}).items()},
        vapor_barrier_slows_by=_factor("vapor_barrier", data.get("vapor_barrier", {})),
    )


def _figure(material: str, rows: Mapping[str, Mapping[str, Any]]) -> Figure:
    row = rows[material]
    _sourced(f"materials.{material}", row)
    taken_as = row.get("taken_as")
    days = rows.get(taken_as, {}).get("days") if taken_as else row.get("days")
    if not (isinstance(days, list) and len(days) == 3 and 0 < days[0] <= days[1] <= days[2]):
        raise BadDaysTable(
            f"materials.{material} needs days = [low, likely, high] in rising order, "
            "or taken_as naming a material that has them."
        )
    return Figure(float(days[0]), float(days[1]), float(days[2]), str(row["source"]), str(row["confidence"]), taken_as)


def _factor(where: str, row: Mapping[str, Any]) -> float:
    _sourced(where, row)
    by = row.get("slows_by")
    if not (isinstance(by, int | float) and math.isfinite(by) and by >= 1):
        raise BadDaysTable(f"{where} needs slows_by, a factor of 1 or more.")
    return float(by)


def _sourced(where: str, row: Mapping[str, Any]) -> None:
    if not row.get("source") or row.get("confidence") not in ("published", "practice", "memory"):
        raise BadDaysTable(
            f"{where} needs a source (a publication, 'trade practice', 'common practice, no source' or 'from memory') "
            "and a confidence (published, practice or memory)."
        )
