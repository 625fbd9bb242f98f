"""The loss as told: frozen, strict, one class per object of the sizing port. Feet, square feet, °F, amps."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Any, Literal, TypeVar

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, PlainValidator
from pydantic_core import PydanticCustomError

Kind = Literal["conventional", "lgr", "desiccant", "air_mover", "air_scrubber", "cavity_kit", "floor_mat_kit", "heater"]
DehumidifierKind = Literal["conventional", "lgr", "desiccant"]
MaterialName = Literal[
    "carpet", "cushion", "drywall", "plaster", "wood_framing", "wood_subfloor", "hardwood_floor", "laminate",
    "sheet_vinyl", "vinyl_tile", "ceramic_tile", "concrete", "masonry", "insulation", "soil", "furniture",
]  # fmt: skip
Covering = Literal["none", "paint", "paper", "vinyl_paper", "gloss_paint", "tile"]
LossSource = Literal[
    "supply_line", "appliance", "sprinkler", "toilet_bowl", "drain_backup", "sewage", "ground_water", "rain", "other"
]
WaterClass = Literal[1, 2, 3, 4]
WaterCategory = Literal[1, 2, 3]

LONGEST_NAME = 200
# Beyond these an exact fraction costs more than any measurement is worth.
MOST_DECIMALS = 60
MOST_DIGITS = 120


def exact(value: Any) -> Fraction:
    """A JSON number, or a Python one, as an exact fraction; a float means the decimal that it prints as."""
    if isinstance(value, bool) or not isinstance(value, int | float | Decimal | Fraction):
        raise PydanticCustomError("wrong_type", "This is not a number. Give a bare number, without quotes.")
    if isinstance(value, float):
        value = Decimal(repr(value))
    if isinstance(value, Decimal):
        if not value.is_finite():
            raise PydanticCustomError("not_a_number", "This is not a finite number. Give a finite number.")
        _, digits, exponent = value.as_tuple()
        if value.adjusted() > MOST_DECIMALS:
            raise PydanticCustomError("out_of_range", "This number is far too large for a building.")
        if int(exponent) < -MOST_DECIMALS or len(digits) > MOST_DIGITS:
            raise PydanticCustomError("out_of_range", "This number has too many decimals. Round it.")
    elif isinstance(value, int) and value.bit_length() > 4 * MOST_DIGITS:
        raise PydanticCustomError("out_of_range", "This number is far too large for a building.")
    return Fraction(value)


def _between(low: int, high: int, *, above: bool = False) -> Callable[[Any], Fraction]:
    def check(value: Any) -> Fraction:
        number = exact(value)
        if number < low or number > high or (above and number == low):
            span = f"more than {low} and at most {high:,}" if above else f"from {low:,} to {high:,}"
            raise PydanticCustomError("out_of_range", "This value cannot be. Give a number {span}.", {"span": span})
        return number

    return check


def _whole_between(low: int, high: int) -> Callable[[Any], int]:
    def check(value: Any) -> int:
        if isinstance(value, bool) or not isinstance(value, int):
            if isinstance(value, Decimal | float):
                exact(value)
            raise PydanticCustomError("wrong_type", "This must be a whole number, without quotes or decimals.")
        if not low <= value <= high:
            span = f"{low:,} to {high:,}"
            raise PydanticCustomError(
                "out_of_range", "This value cannot be. Give a whole number from {span}.", {"span": span}
            )
        return value

    return check


Checked = TypeVar("Checked")


def _or_null(check: Callable[[Any], Checked]) -> Callable[[Any], Checked | None]:
    return lambda value: None if value is None else check(value)


def _name(value: Any) -> str:
    if not isinstance(value, str):
        raise PydanticCustomError("wrong_type", "This must be text in quotes.")
    if not value.strip():
        raise PydanticCustomError("blank", "This is blank. Give a name that people on site will recognize.")
    if len(value) > LONGEST_NAME:
        raise PydanticCustomError("out_of_range", "This text is too long. Give at most 200 characters.")
    if any(unicodedata.category(letter) in {"Cc", "Cs"} for letter in value):
        raise PydanticCustomError("text", "This text holds control characters. Give plain letters, digits and signs.")
    return value


def _rows(most: int) -> Callable[[Any], tuple[Any, ...]]:
    def check(value: Any) -> tuple[Any, ...]:
        if not isinstance(value, list | tuple):
            raise PydanticCustomError("wrong_type", "This must be a list in square brackets, which may be empty.")
        if len(value) > most:
            raise PydanticCustomError(
                "out_of_range", "This list is too long. Give at most {most} entries.", {"most": most}
            )
        return tuple(value)

    return check


def _same_number(value: Any) -> Any:
    # In Python True == 1 == 1.0; in JSON they are three different things.
    if isinstance(value, bool) or not isinstance(value, int):
        raise PydanticCustomError("wrong_type", "This must be a whole number from the list of choices.")
    if not 0 <= value <= 99:
        raise PydanticCustomError("out_of_range", "This is none of the choices. Give a small whole number.")
    return value


Name = Annotated[str, PlainValidator(_name)]
Amount = Annotated[Fraction, PlainValidator(_between(0, 10_000_000))]
Capacity = Annotated[Fraction | None, PlainValidator(_or_null(_between(0, 1_000_000, above=True)))]
EdgeFt = Annotated[Fraction, PlainValidator(_between(0, 1_000))]
OptionalEdgeFt = Annotated[Fraction | None, PlainValidator(_or_null(_between(0, 1_000)))]
Whole = Annotated[int, PlainValidator(_whole_between(0, 100_000))]


class Part(BaseModel):
    """Everything below is read once and never changed."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)


class Circuit(Part):
    """A 120 V branch circuit that may be used."""

    breaker_a: Annotated[Fraction, PlainValidator(_between(0, 1_000, above=True))]
    reserved_a: Annotated[Fraction, PlainValidator(_between(0, 1_000))]


class CatalogueEntry(Part):
    """A model of machine and how many are free; the capacity that its kind is sized by is never null."""

    model: Name
    kind: Kind
    rated_pints_per_day: Capacity
    process_cfm: Capacity
    airflow_cfm: Capacity
    outlets: Annotated[int | None, PlainValidator(_or_null(_whole_between(1, 1_000)))]
    covers_sqft: Capacity
    running_a: Annotated[Fraction, PlainValidator(_between(0, 1_000))]
    free: Whole


class Also(Part):
    """Units that the lead adds: they draw power and answer no need."""

    model: Name
    count: Whole


class Air(Part):
    """The air of a chamber."""

    dry_bulb_f: Annotated[Fraction, PlainValidator(_between(33, 120))]
    rh_pct: Annotated[Fraction, PlainValidator(_between(1, 100))]


class RoomMaterial(Part):
    material: MaterialName
    area_sqft: Amount
    covering: Covering


class WallRun(Part):
    """A length of wall whose cavity is wet."""

    length_ft: EdgeFt
    stud_spacing_in: Annotated[Fraction, PlainValidator(_between(0, 120, above=True))]
    insulation_wet: bool
    vapor_barrier: bool
    fire_rated: bool


class Room(Part):
    """One room, or ``count`` rooms taken together with their areas summed."""

    name: Name
    count: Annotated[int, PlainValidator(_whole_between(1, 1_000))]
    length_ft: OptionalEdgeFt
    width_ft: OptionalEdgeFt
    floor_sqft: Annotated[Fraction | None, PlainValidator(_or_null(_between(0, 1_000_000)))]
    height_ft: Annotated[Fraction, PlainValidator(_between(0, 100))]
    wet_floor_sqft: Amount
    wet_lower_wall_sqft: Amount
    wet_upper_wall_sqft: Amount
    wet_ceiling_sqft: Amount
    lower_wall_only_ft: Annotated[Fraction, PlainValidator(_between(0, 1_000_000))]
    painted_sqft_disturbed: Amount
    offsets_over_18in: Whole
    materials: Annotated[tuple[RoomMaterial, ...], BeforeValidator(_rows(200))]
    wall_runs: Annotated[tuple[WallRun, ...], BeforeValidator(_rows(200))]
    wet_wood_floor_sqft: Amount


class Chamber(Part):
    """A drying chamber: rooms that share their air."""

    name: Name
    class_: Annotated[WaterClass | None, BeforeValidator(_or_null(_same_number)), Field(alias="class")]
    dehumidifier: DehumidifierKind
    bound_water: bool
    crawl_space: bool
    air: Air | None
    rooms: Annotated[tuple[Room, ...], BeforeValidator(_rows(1_000))]


class Loss(Part):
    """A whole loss, as the sizing port takes it."""

    format: Annotated[Literal[1], BeforeValidator(_same_number)]
    rules: Annotated[str | None, PlainValidator(_or_null(_name))]
    category: Annotated[WaterCategory | None, BeforeValidator(_or_null(_same_number))]
    loss_source: LossSource | None
    emergency: bool
    hours_wet: Annotated[Fraction | None, PlainValidator(_or_null(_between(0, 1_000_000)))]
    year_built: Annotated[int | None, PlainValidator(_or_null(_whole_between(1500, 2100)))]
    dwelling_units: Annotated[int | None, PlainValidator(_or_null(_whole_between(0, 100_000)))]
    mould_sqft: Amount
    elevation_ft: Annotated[Fraction, PlainValidator(_between(-1_500, 15_000))]
    generator_distance_ft: Annotated[Fraction | None, PlainValidator(_or_null(_between(0, 100_000)))]
    circuits: Annotated[tuple[Circuit, ...], BeforeValidator(_rows(500))]
    catalogue: Annotated[tuple[CatalogueEntry, ...] | None, BeforeValidator(_or_null(_rows(500)))]
    also: Annotated[tuple[Also, ...], BeforeValidator(_rows(500))]
    chambers: Annotated[tuple[Chamber, ...], BeforeValidator(_rows(200))]
