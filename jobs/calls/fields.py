"""The fields of a call in the order in which they are asked: safety, a way to call back, where, everything else."""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from jobs.calls import hazards, parsing
from jobs.models import Job
from jobs.refusals import Refusal

SOURCES = {
    "supply_line": "supply pipe",
    "appliance": "appliance",
    "sprinkler": "sprinkler",
    "toilet_bowl": "toilet bowl",
    "drain_backup": "drain backing up",
    "sewage": "sewage",
    "ground_water": "ground or flood water",
    "rain": "rain",
    "other": "something else",
}
CATEGORIES = {"1": "1 clean", "2": "2 gray", "3": "3 black"}
BUILDINGS = {
    "house": "house",
    "apartment building": "apartment building",
    "shop": "shop",
    "office": "office",
    "school": "school",
    "care home": "care home",
    "clinic": "clinic",
    "other": "other",
}
ROLES = {
    "owner": "owner",
    "tenant": "tenant",
    "manager": "property manager",
    "neighbor": "neighbor",
    "agent": "agent",
    "adjuster": "adjuster",
    "other": "other",
}


@dataclass(frozen=True)
class CallField:
    """One thing that is asked. `kind` says how a screen shows it; private answers are erased on schedule."""

    key: str
    label: str
    hint: str
    group: str
    kind: str
    read: Callable[[Any], Any]
    private: bool = False
    words: dict[str, str] = field(default_factory=dict)


def _category(raw: Any) -> int | None:
    found = parsing.choice(CATEGORIES)(raw)
    return int(found) if found else None


def _field(
    group: str,
    key: str,
    label: str,
    hint: str,
    read: Callable[[Any], Any],
    *,
    kind: str = "text",
    private: bool = False,
    words: dict[str, str] | None = None,
) -> CallField:
    return CallField(key, label, hint, group, kind, read, private, words or {})


def _one_of(group: str, key: str, label: str, hint: str, words: dict[str, str]) -> CallField:
    return _field(group, key, label, hint, parsing.choice(words), kind="choice", words=words)


_RUNNING = {str(key): str(label) for key, label in Job.Running.choices}
_POWER = {str(key): str(label) for key, label in Job.Power.choices}
_text = parsing.text

FIELDS: tuple[CallField, ...] = (
    _field("first", "callback_number", "Callback number", "Read it back", parsing.phone, kind="phone", private=True),
    _field(
        "first",
        "hazards",
        "Anyone in danger?",
        "Hurt, trapped, gas, ceiling, water near power",
        parsing.choices(hazards.WORDS),
        kind="choices",
        words=hazards.WORDS,
    ),
    _field("caller", "caller_name", "Name", "Who is calling", _text(80), private=True),
    _one_of("caller", "caller_role", "Who they are", "Owner, tenant, neighbor", ROLES),
    _field("place", "street", "Street", "House number and street", _text(120)),
    _field("place", "unit", "Unit", "Apartment or suite", _text(20)),
    _field("place", "zip_code", "ZIP", "Finds town, state and county", parsing.zip_code, kind="zip"),
    _field("place", "town", "Town", "A name in both states is asked", _text(60)),
    _field("place", "state", "State", "WA or OR", parsing.state, kind="state"),
    _field("place", "point", "Coordinates", "Latitude, longitude: if no ZIP", parsing.point, kind="point"),
    _one_of("water", "water_source", "Where is the water from?", "First guess at the category", SOURCES),
    _one_of("water", "running", "Still running?", "Callers say stopped when it is not: ask twice", _RUNNING),
    _one_of("water", "power", "Power", "On, off, or not known", _POWER),
    _field(
        "water",
        "category",
        "Best guess at the category",
        "The lead decides on site",
        _category,
        kind="choice",
        words=CATEGORIES,
    ),
    _field(
        "water", "hours_wet", "Hours since it began", "Category can worsen with time", parsing.number(0, 8760, "hours")
    ),
    _one_of("building", "building", "Building", "House, apartments, shop", BUILDINGS),
    _field("building", "year_built", "Year built", "Before 1978: lead-safe rules may apply", parsing.year),
    _field(
        "building",
        "dwelling_units",
        "Homes in the building",
        "1 for a house",
        parsing.number(1, 5000, "homes", whole=True),
    ),
    _field("people", "care", "Who needs care", "Infant, oxygen machine, pets", _text(300), private=True),
    _field("people", "language", "Language", "If not English", _text(40)),
    _field("people", "lets_in", "Who lets us in", "Name, and number if another", _text(120), private=True),
    _field("people", "access", "Access", "Gate, alarm, key box, parking height", _text(300), private=True),
    _field("people", "can_sign", "Who can sign", "Owner, or a named way to reach them", _text(120), private=True),
    _field("payer", "payer", "Who pays", "Insurer, or self", _text(80), kind="payer"),
    _field("payer", "claim_number", "Claim number", "Never holds up a truck", _text(40), private=True),
    _field("payer", "referred_by", "Who sent them", "", _text(80)),
    _field("power", "circuits", "Circuits", "Breaker amps: 15, 20, 20", parsing.circuits, kind="circuits"),
)
BY_KEY = {entry.key: entry for entry in FIELDS}


class NoSuchField(Refusal):
    """The call has no field of this name."""

    code = "no_such_field"
    status = 422


def field_named(key: str) -> CallField:
    """
    :raises NoSuchField: if the call has no such field.
    """
    found = BY_KEY.get(key)
    if found is None:
        raise NoSuchField(f"A call has no field {key!r}. It has: {', '.join(BY_KEY)}, rooms.", where=key)
    return found
