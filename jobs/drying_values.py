"""Readings as they are typed, what no instrument shows, and what looks wrong by ten."""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime

from jobs.models import AirReading, MaterialPoint
from jobs.refusals import Unusable

# Outside these a reading is asked about, not refused (judgment: a lived-in or dried building).
USUAL_DRY_BULB_F = (40.0, 110.0)
USUAL_RH_PCT = (8.0, 99.0)
# The top of a meter's scale; a wood meter reads about fiber saturation at 30 % and is asked about above 60 %.
USUAL_TOP: Mapping[str, float] = {"percent_mc": 60.0, "relative_0_100": 100.0}
TIMES_BEFORE = 4.0


@dataclass(frozen=True)
class AirValue:
    """
    One air reading: dry bulb in °F and relative humidity in % together. `where`: inside, outside, unaffected, outlet.

    `chamber` names the chamber, `unit_number` the dehumidifier at whose outlet it was taken.
    """

    where: str
    dry_bulb_f: float
    rh_pct: float
    chamber: str = ""
    unit_number: str = ""
    taken_at: datetime | None = None


@dataclass(frozen=True)
class MaterialValue:
    """One meter value at the point of this number, in the point's scale."""

    point: int
    value: float
    taken_at: datetime | None = None


@dataclass(frozen=True)
class Doubt:
    """One value that is asked about; `where` names the reading."""

    where: str
    message: str


def doubts(
    air: tuple[AirValue, ...],
    materials: tuple[MaterialValue, ...],
    points: Mapping[int, MaterialPoint],
    before: Mapping[int, float],
) -> tuple[Doubt, ...]:
    """
    What should be asked about before it is kept. `before` holds the last value by point number.

    :raises Unusable: for what no instrument shows.
    """
    return (*_air_doubts(air), *_material_doubts(materials, points, before))


def require_possible(value: float, where: str) -> None:
    """
    :raises Unusable: if no meter shows the value.
    """
    if not math.isfinite(value) or not 0 <= value <= 1000:
        raise Unusable("A meter shows a number from 0 upward. Read it again.", where=where)


def _air_doubts(air: tuple[AirValue, ...]) -> Iterator[Doubt]:
    for index, value in enumerate(air):
        where = f"air[{index}]"
        if value.where not in AirReading.Where.values:
            raise Unusable(f"Air is read at one of: {', '.join(AirReading.Where.values)}.", where=f"{where}.where")
        if not math.isfinite(value.rh_pct) or not 0 < value.rh_pct <= 100:
            raise Unusable("Relative humidity is above 0 and at most 100 %.", where=f"{where}.rh_pct")
        if not math.isfinite(value.dry_bulb_f) or not -40 <= value.dry_bulb_f <= 200:
            raise Unusable("Air is between -40 and 200 °F. Is this in °F?", where=f"{where}.dry_bulb_f")
        low, high = USUAL_DRY_BULB_F
        # Outside air may be anything; inside, a tenth or ten times of what was meant stands out.
        if value.where != AirReading.Where.OUTSIDE and not low <= value.dry_bulb_f <= high:
            yield Doubt(f"{where}.dry_bulb_f", f"{value.dry_bulb_f:g} °F inside is unusual.")
        low, high = USUAL_RH_PCT
        if not low <= value.rh_pct <= high and value.where != AirReading.Where.OUTSIDE:
            yield Doubt(f"{where}.rh_pct", f"{value.rh_pct:g} % relative humidity is unusual.")


def _material_doubts(
    materials: tuple[MaterialValue, ...], points: Mapping[int, MaterialPoint], before: Mapping[int, float]
) -> Iterator[Doubt]:
    for value in materials:
        where, point = f"point {value.point}", points[value.point]
        require_possible(value.value, where)
        top = USUAL_TOP.get(point.scale)
        last = before.get(value.point)
        if top is not None and value.value > top:
            yield Doubt(where, f"Point {value.point} shows {value.value:g}; its scale usually ends at {top:g}.")
        elif last and value.value > last * TIMES_BEFORE:
            yield Doubt(where, f"Point {value.point} shows {value.value:g}; it was {last:g} before.")
        elif value.value < point.dry_standard / TIMES_BEFORE:
            yield Doubt(
                where, f"Point {value.point} shows {value.value:g}; dry material showed {point.dry_standard:g}."
            )
