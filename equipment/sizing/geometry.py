"""Areas and volumes of rooms, exact where the numbers are, square roots to fifty digits."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal, localcontext
from fractions import Fraction
from functools import cached_property
from math import isqrt

from equipment.sizing.loss import Room

LOWER_WALL_FT = 2


@dataclass(frozen=True)
class RoomSize:
    """Sizes of a room, or of ``count`` rooms together: ft, sq ft and cu ft, each with the sum that made it."""

    floor_sqft: Fraction
    perimeter_ft: Fraction
    height_ft: Fraction

    @cached_property
    def wall_sqft(self) -> Fraction:
        return self.perimeter_ft * self.height_ft

    @property
    def lower_wall_sqft(self) -> Fraction:
        return self.perimeter_ft * min(self.height_ft, Fraction(LOWER_WALL_FT))

    @property
    def upper_wall_sqft(self) -> Fraction:
        return self.wall_sqft - self.lower_wall_sqft

    @cached_property
    def surface_sqft(self) -> Fraction:
        """Floor, ceiling and walls."""
        return 2 * self.floor_sqft + self.wall_sqft

    @property
    def volume_cuft(self) -> Fraction:
        return self.floor_sqft * self.height_ft


def room_size(room: Room) -> RoomSize:
    """
    Sizes of a room told by its edges or by its floor.

    Edges are those of one room, so ``count`` rooms have ``count`` times its floor and walls. A floor alone is shared by
    ``count`` square rooms.
    """
    if room.length_ft is not None and room.width_ft is not None:
        floor = room.count * room.length_ft * room.width_ft
        perimeter = room.count * 2 * (room.length_ft + room.width_ft)
    else:
        floor = room.floor_sqft or Fraction(0)
        perimeter = 4 * square_root(room.count * floor)
    return RoomSize(floor_sqft=floor, perimeter_ft=perimeter, height_ft=room.height_ft)


def square_root(number: Fraction) -> Fraction:
    """Exact for squares of fractions, else to fifty digits."""
    above, below = isqrt(number.numerator), isqrt(number.denominator)
    if above * above == number.numerator and below * below == number.denominator:
        return Fraction(above, below)
    with localcontext() as context:
        context.prec = 50
        return Fraction((Decimal(number.numerator) / Decimal(number.denominator)).sqrt())


def wet_sqft(room: Room) -> Fraction:
    """All wet surface; every wet area counts as porous. Wet wood floor is part of the wet floor."""
    return room.wet_floor_sqft + room.wet_lower_wall_sqft + room.wet_upper_wall_sqft + room.wet_ceiling_sqft


def is_dry(room: Room) -> bool:
    """Nothing wet was told of this room, in any of the ways it can be told."""
    return not (wet_sqft(room) or room.lower_wall_only_ft or room.wet_wood_floor_sqft)
