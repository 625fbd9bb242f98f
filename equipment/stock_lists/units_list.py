"""The list of numbered units: its columns and what a row must be."""

from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any

from equipment.models import Condition, Holder
from equipment.numbers import unit_number
from equipment.sheets import cells
from equipment.sheets.cells import BadCell
from equipment.sheets.checking import Column, Table
from jobs.refusals import Unusable

# What a new unit can be entered as; everything else happens to a unit later, one entry at a time.
ENTERED_AT = frozenset({Holder.Kind.WAREHOUSE, Holder.Kind.VEHICLE, Holder.Kind.REPAIR, Holder.Kind.NOT_FOUND})
ENTERED_AS = frozenset({Condition.READY, Condition.NOT_YET_CLEANED, Condition.HELD_BACK, Condition.BROKEN})
# What a file may change of a unit that is known.
PAPERS = ("supplier", "supplier_number", "daily_cost_usd")


def _number(cell: str, today: date) -> str:
    try:
        number = unit_number(cell)
    except Unusable:
        raise BadCell(f"{cell[:20]!r} is no unit number; write its four digits, such as 0042") from None
    if len(number) > 12:
        raise BadCell(f"{cell!r} is longer than a unit's number; write its four digits, such as 0042")
    return number


UNITS = Table(
    "units",
    ("number",),
    (
        Column("number", _number),
        Column("model", cells.code(40), refers="equipment_models"),
        Column("holder", cells.one_of(*Holder.Kind.values)),
        # A warehouse's or vehicle's code, a job's number; of a unit elsewhere, what the place is called.
        Column("place", cells.text(120), needed=False),
        Column("room", cells.text(60), needed=False),
        Column("condition", cells.one_of(*Condition.values)),
        Column("water_category", cells.whole(1, 3), needed=False),
        Column("hour_meter_h", cells.number(0, 999_999), needed=False),
        Column("rented", cells.yes_no),
        Column("supplier", cells.text(80), needed=False),
        Column("supplier_number", cells.text(40), needed=False),
        Column("daily_cost_usd", cells.number(0, 999_999), needed=False),
    ),
)


def unit_is_somewhere(row: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """Holder, place and condition of a new unit go together; a rented unit names its supplier and cost."""
    if row["holder"] in {"warehouse", "vehicle"} and row["place"] is None:
        yield "place", f"is empty; write the code of the {row['holder']}"
    if (row["holder"] == "repair") != (row["condition"] == "broken"):
        yield "condition", "broken belongs to holder repair, and only to it"
    if row["condition"] == "held_back" and row["water_category"] != 3:
        yield "water_category", "is not 3; a unit is held back only after category 3 water"
    if row["water_category"] == 3 and row["condition"] == "ready":
        yield "condition", "ready does not go with category 3 water; write held_back, or leave the category out"
    yield from papers_go_together(row)


def papers_go_together(row: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """A rented unit names its supplier, the supplier's number and its cost; one of ours names none."""
    for column in ("supplier", "supplier_number", "daily_cost_usd"):
        if row["rented"] and row[column] is None:
            yield column, "is empty; a rented unit needs it"
        if not row["rented"] and row[column] is not None:
            yield column, "is filled, but the unit is not rented; write rented as yes or leave this empty"
