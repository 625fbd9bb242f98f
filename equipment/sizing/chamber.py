"""One drying chamber from its rooms to its need."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from equipment.sizing.air_movers import add_up, size_room_movers
from equipment.sizing.dehumidification import air_figures, size_dehumidification
from equipment.sizing.drying import expected_days
from equipment.sizing.filtration import ChamberAir
from equipment.sizing.geometry import RoomSize, is_dry, room_size, wet_sqft
from equipment.sizing.loss import Chamber, Room
from equipment.sizing.report import ChamberReport, RoomReport
from equipment.sizing.rule_set import RuleSet
from equipment.sizing.water import settle_class
from equipment.sizing.wording import plain
from equipment.sizing.working import Working


def is_wholly_dry(chamber: Chamber) -> bool:
    """Nothing is wet in any room, no cavity is to be dried and no bound water is stated."""
    return not chamber.bound_water and all(is_dry(room) and not room.wall_runs for room in chamber.rooms)


def size_chamber(
    chamber: Chamber, category: int, elevation_ft: Fraction, rules: RuleSet, where: str, working: Working
) -> tuple[ChamberReport, ChamberAir]:
    """The chamber's part of the report, and its air for what is sized over all chambers together."""
    sizes = [room_size(room) for room in chamber.rooms]
    volume = sum((size.volume_cuft for size in sizes), Fraction(0))
    surface = sum((size.surface_sqft for size in sizes), Fraction(0))
    wet = sum((wet_sqft(room) for room in chamber.rooms), Fraction(0))
    share = min(wet / surface, Fraction(1)) if surface else Fraction(0)
    dry = is_wholly_dry(chamber)
    _show_sizes(chamber, sizes, volume, surface, wet, share, where, working)
    class_of = settle_class(chamber, share, rules, where, working)
    air = air_figures(chamber.air, elevation_ft, where, working)
    dehumidification = size_dehumidification(
        chamber, class_of.number, volume, dry=dry, air=air, rules=rules, where=where, working=working
    )
    rooms = tuple(
        RoomReport(room.name, size_room_movers(room, category, rules, f"{where}.rooms[{index}]", working))
        for index, room in enumerate(chamber.rooms)
    )
    report = ChamberReport(
        name=chamber.name,
        volume_cuft=volume,
        surface_sqft=surface,
        wet_sqft=wet,
        wet_share=share,
        class_=class_of.number,
        class_from="set" if class_of.set_by_lead else "worked out",
        air=air,
        dehumidification=dehumidification,
        air_movers=add_up((room.air_movers for room in rooms), where, working),
        rooms=rooms,
        drying_days=expected_days(chamber, dry=dry, rules=rules, where=where, working=working),
    )
    if category == 3 and report.air_movers.high:
        working.caution("air_movers_after_cleaning", f"{where}.air_movers")
    return report, ChamberAir(volume, dry)


def _show_sizes(
    chamber: Chamber,
    sizes: Sequence[RoomSize],
    volume: Fraction,
    surface: Fraction,
    wet: Fraction,
    share: Fraction,
    where: str,
    working: Working,
) -> None:
    floors = [_floor_text(room) for room in chamber.rooms]
    volumes = [f"{text} x {plain(room.height_ft)}" for text, room in zip(floors, chamber.rooms, strict=True)]
    surfaces = [
        f"2 x {text} + {plain(size.perimeter_ft)} x {plain(size.height_ft)}"
        for text, size in zip(floors, sizes, strict=True)
    ]
    wets = [_wet_text(room) for room in chamber.rooms if wet_sqft(room)]
    working.row(f"{where}.volume_cuft", f"{' + '.join(volumes) or '0'} = {plain(volume)}")
    working.row(f"{where}.surface_sqft", f"{' + '.join(surfaces) or '0'} = {plain(surface)}")
    working.row(f"{where}.wet_sqft", f"{' + '.join(wets) or '0'} = {plain(wet)}")
    sum_ = f"{plain(wet)} / {plain(surface)} = {plain(share)}" if surface else "no surface: 0"
    working.row(f"{where}.wet_share", sum_)


def _floor_text(room: Room) -> str:
    if room.length_ft is None or room.width_ft is None:
        return plain(room.floor_sqft or 0)
    edges = f"{plain(room.length_ft)} x {plain(room.width_ft)}"
    return edges if room.count == 1 else f"{room.count} x {edges}"


def _wet_text(room: Room) -> str:
    parts = (room.wet_floor_sqft, room.wet_lower_wall_sqft, room.wet_upper_wall_sqft, room.wet_ceiling_sqft)
    return " + ".join(plain(part) for part in parts if part)
