"""What the cells of one row must be to one another. Each rule yields (column, what is wrong and right)."""

from collections.abc import Callable, Iterator, Mapping
from typing import Any

import zipcodes

from equipment.stock_lists.models_list import model_has_its_figure
from equipment.stock_lists.units_list import unit_is_somewhere

Values = Mapping[str, Any]
Found = Iterator[tuple[str, str]]

# Degrees: a warehouse farther from its ZIP code's middle than this has a slip in its coordinates.
FARTHEST_DEG = 0.5


def warehouse_is_on_the_map(row: Values) -> Found:
    """ZIP, town, state and coordinates name one place (offline ZIP table)."""
    matches = zipcodes.matching(row["zip"][:5]) if zipcodes.is_real(row["zip"][:5]) else []
    if not matches:
        yield "zip", f"{row['zip']} is no ZIP code that is in use"
        return
    found = matches[0]
    names = {name.lower() for name in (found["city"], *found["acceptable_cities"])}
    if found["state"] != row["state"]:
        yield "state", f"ZIP {row['zip']} lies in {found['state']}, not in {row['state']}"
    elif row["town"].lower() not in names:
        yield "town", f"ZIP {row['zip']} belongs to {found['city']}, {found['state']}, not to {row['town']}"
    off = max(abs(float(found["lat"]) - row["lat"]), abs(float(found["long"]) - row["lon"]))
    if off > FARTHEST_DEG:
        yield "lat", f"lies far from ZIP {row['zip']}; its middle is {found['lat']}, {found['long']}"


def vehicle_can_carry(row: Values) -> Found:
    """Payload is what is left of the rated weight."""
    rated = max(row["gvwr_lb"], row["gcwr_lb"] or 0)
    if row["payload_lb"] >= rated:
        yield "payload_lb", f"{row['payload_lb']} is not less than the rated weight, {rated}"


def card_lapses_after_its_issue(row: Values) -> Found:
    """A card does not lapse before it was given."""
    if row["issued_on"] is not None and row["expires_on"] is not None and row["expires_on"] < row["issued_on"]:
        yield "expires_on", f"{row['expires_on']} is before the day of issue, {row['issued_on']}"


def rule_holds_for_a_day(row: Values) -> Found:
    """`valid_until` is the first day on which the rule no longer holds."""
    if row["valid_until"] is not None and row["valid_until"] <= row["valid_from"]:
        yield "valid_until", f"{row['valid_until']} is not after valid_from, {row['valid_from']}"


ROW_RULES: tuple[tuple[str, Callable[[Values], Found]], ...] = (
    ("warehouses", warehouse_is_on_the_map),
    ("equipment_models", model_has_its_figure),
    ("vehicles", vehicle_can_carry),
    ("units", unit_is_somewhere),
    ("cards", card_lapses_after_its_issue),
    ("payers", rule_holds_for_a_day),
    ("state_rules", rule_holds_for_a_day),
)
