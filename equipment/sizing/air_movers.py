"""Initial air movers of a room: low, high and planned counts."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from math import ceil

from equipment.sizing.geometry import is_dry, room_size
from equipment.sizing.loss import Room
from equipment.sizing.report import MoverCounts
from equipment.sizing.rule_set import Figure, FloorAndWall, LinearFeet, RuleSet, Span
from equipment.sizing.wording import counted, plain, plain_beside
from equipment.sizing.working import Working

COUNTS = ("low", "high", "planned")
NONE = MoverCounts(low=0, high=0, planned=0)


def size_room_movers(room: Room, category: int, rules: RuleSet, where: str, working: Working) -> MoverCounts:
    """
    Counts for one room, or for several taken together.

    Category 3 keeps low and high in view but plans none: air is moved only after cleaning.
    """
    at = f"{where}.air_movers"
    if is_dry(room):
        for name in COUNTS:
            working.row(f"{at}.{name}", "nothing is wet here: 0")
        return NONE
    counts: dict[str, int] = {}
    for name in COUNTS:
        counts[name], sum_, source = _count(room, name, rules)
        if name == "planned" and category == 3:
            counts[name] = 0
            sum_ = f"{sum_} after cleaning; before it, category 3: none -> 0"
        working.row(f"{at}.{name}", sum_, source)
    if isinstance(rules.air_movers, LinearFeet) and not counts["high"]:
        working.caution("wall_length_unknown", where)
    return MoverCounts(**counts)


def add_up(rooms: Iterable[MoverCounts], where: str, working: Working) -> MoverCounts:
    """Counts of a chamber: those of its rooms together."""
    each = tuple(rooms)
    totals: dict[str, int] = {}
    for name in COUNTS:
        parts = [getattr(counts, name) for counts in each]
        totals[name] = sum(parts)
        working.row(f"{where}.air_movers.{name}", f"rooms: {' + '.join(map(str, parts)) or '0'} = {totals[name]}")
    return MoverCounts(**totals)


def _count(room: Room, name: str, rules: RuleSet) -> tuple[int, str, str]:
    by = rules.air_movers
    if isinstance(by, LinearFeet):
        return _by_wall_length(room, name, by)
    if room.lower_wall_only_ft > 0:
        movers = ceil(room.lower_wall_only_ft / by.lower_wall_ft.value)
        sum_ = f"{plain(room.lower_wall_only_ft)} ft of lower wall / {plain(by.lower_wall_ft.value)} -> {movers}"
        return movers, sum_, by.lower_wall_ft.source
    if name == "low" and _small(room, by):
        movers = room.count * int(by.small_room_low.value)
        limit = plain(by.small_room_sqft.value)
        times = f"{room.count} x {plain(by.small_room_low.value)} = " if room.count > 1 else ""
        return movers, f"floor under {limit} sq ft, dry above: {times}{movers}", by.small_room_low.source
    return _by_floor_and_wall(room, name, by)


def _small(room: Room, by: FloorAndWall) -> bool:
    floor = room_size(room).floor_sqft / room.count
    return floor < by.small_room_sqft.value and not (room.wet_upper_wall_sqft or room.wet_ceiling_sqft)


def _by_floor_and_wall(room: Room, name: str, by: FloorAndWall) -> tuple[int, str, str]:
    floor_rate, upper_rate = _rate(by.floor_sqft, name), _rate(by.upper_sqft, name)
    upper = room.wet_upper_wall_sqft + room.wet_ceiling_sqft
    floor_term, upper_term = room.wet_floor_sqft / floor_rate.value, upper / upper_rate.value
    base, offsets = room.count * by.per_room.value, room.offsets_over_18in * by.per_offset.value
    text = plain(base)
    if room.wet_floor_sqft:
        text += f" + {plain(room.wet_floor_sqft)} / {plain(floor_rate.value)}"
    if upper:
        text += f" + {plain(upper)} / {plain(upper_rate.value)}"
    if offsets:
        text += f" + {plain(offsets)} for {counted(room.offsets_over_18in, 'offset')}"
    if by.rounding.value == "term":
        movers = ceil(base) + ceil(floor_term) + ceil(upper_term) + ceil(offsets)
        return movers, f"{text}, each term up -> {movers}", floor_rate.source
    total: Fraction = base + floor_term + upper_term + offsets
    movers = ceil(total)
    return movers, f"{text} = {plain_beside(total, round(total))} -> {movers}", floor_rate.source


def _by_wall_length(room: Room, name: str, by: LinearFeet) -> tuple[int, str, str]:
    rate = _rate(by.wall_ft, name)
    if room.lower_wall_only_ft > 0:
        length = room.lower_wall_only_ft
        text = plain(length)
    else:
        length = room.wet_lower_wall_sqft / by.wall_height_ft.value
        text = f"{plain(room.wet_lower_wall_sqft)} sq ft / {plain(by.wall_height_ft.value)} = {plain(length)}"
    movers = ceil(length / rate.value)
    return movers, f"{text} ft of wall / {plain(rate.value)} -> {movers}", rate.source


def _rate(span: Span, name: str) -> Figure:
    return {"low": span.low, "high": span.high, "planned": span.planned}[name]
