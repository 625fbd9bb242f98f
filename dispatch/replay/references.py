"""
How a step names things whose ids it cannot know.

`$call.job_id` is a field of what the step with `"as": "call"` returned (dots, list positions from 0, `#` for a count).
`@vehicle:V09` is the id of a row of the company by its code, `@promise:3` of the third promise that was ever made. A
text that really begins so is written with the sign doubled: `$$5 part`.
"""

import re
from collections.abc import Callable, Iterator, Mapping
from typing import Any

from django.apps import apps

from dispatch.models import Crew, Person
from equipment.models import EquipmentModel, Vehicle, Warehouse
from jobs.models import Area, Job

_RESULT = re.compile(r"^\$([A-Za-z_][A-Za-z0-9_]*)((?:\.[^.\s]+)*)$")
_ROW = re.compile(r"^@([a-z]+):(\S.*)$")


class Missing(Exception):
    """Nothing stands where a reference or a path points; the message says what does."""


def is_reference(value: object) -> bool:
    """Whether a value stands for something else."""
    return isinstance(value, str) and bool(_RESULT.match(value) or _ROW.match(value))


def names_in(value: Any) -> Iterator[str]:
    """The results that a value refers to, at any depth."""
    for text in texts_in(value):
        if found := _RESULT.match(text):
            yield found[1]


def rows_in(value: Any) -> Iterator[tuple[str, str]]:
    """The company's rows that a value refers to, as (kind, code), at any depth."""
    for text in texts_in(value):
        if found := _ROW.match(text):
            yield found[1], found[2]


def texts_in(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for inner in value.values():
            yield from texts_in(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from texts_in(inner)


def resolve(value: Any, results: Mapping[str, Any]) -> Any:
    """
    The value with every reference replaced by what it stands for.

    :raises Missing: if one stands for nothing.
    """
    if isinstance(value, dict):
        return {name: resolve(inner, results) for name, inner in value.items()}
    if isinstance(value, list):
        return [resolve(inner, results) for inner in value]
    if not isinstance(value, str):
        return value
    if value.startswith(("$$", "@@")):
        return value[1:]
    if found := _RESULT.match(value):
        if found[1] not in results:
            raise Missing(f"{value}: the step {found[1]} returned nothing; see its line for why it was refused.")
        return at_path(results[found[1]], found[2].removeprefix("."))
    if found := _ROW.match(value):
        return _row_id(found[1], found[2])
    return value


def at_path(value: Any, path: str) -> Any:
    """
    What stands at a dotted path: `offers.0.crew`, `offers.#` for how many there are, an empty path for all of it.

    :raises Missing: if nothing does.
    """
    for part in path.split(".") if path else ():
        if part == "#" and isinstance(value, list | dict):
            value = len(value)
        elif isinstance(value, dict) and part in value:
            value = value[part]
        elif isinstance(value, list) and part.isdigit() and int(part) < len(value):
            value = value[int(part)]
        else:
            raise Missing(f"{path}: there is no {part} in {_what(value)}.")
    return value


def _what(value: Any) -> str:
    if isinstance(value, dict):
        return "an object with " + (", ".join(sorted(map(str, value))) or "nothing in it")
    if isinstance(value, list):
        return f"a list of {len(value)}"
    return repr(value)


def _row_id(kind: str, code: str) -> int:
    try:
        pk = KINDS[kind](code)
    except KeyError:
        raise Missing(f"@{kind}: is not known. Known: {', '.join(KINDS)}.") from None
    if pk is None:
        raise Missing(f"@{kind}:{code}: there is no such {kind} now.")
    return pk


def _crew(code: str) -> int | None:
    day, _, name = code.rpartition("/")
    crews = Crew.objects.filter(name=name, **({"service_day": day} if day else {}))
    return crews.order_by("service_day").values_list("pk", flat=True).first()


def _first(model: Any, field: str) -> Callable[[str], int | None]:
    def find(code: str) -> int | None:
        found: int | None = model.objects.filter(**{field: code}).order_by("pk").values_list("pk", flat=True).first()
        return found

    return find


def _nth(label: str) -> Callable[[str], int | None]:
    def find(position: str) -> int | None:
        rows = apps.get_model(label)._default_manager.order_by("pk")
        at = int(position) if position.isdigit() else 0
        found: int | None = rows.values_list("pk", flat=True)[at - 1 : at].first() if at else None
        return found

    return find


# What is made on the way and has no code: named by its position among all of its kind, 1 for the first.
MADE: dict[str, str] = {
    "visit": "jobs.Visit",
    "call": "jobs.Call",
    "contact": "jobs.Contact",
    "promise": "jobs.Promise",
    "air_reading": "jobs.AirReading",
    "material_reading": "jobs.MaterialReading",
    "place": "equipment.Holder",
    "pool": "equipment.Pool",
    "reservation": "equipment.Reservation",
    "move": "equipment.Move",
    "load_list": "equipment.LoadList",
    "discrepancy": "equipment.Discrepancy",
    "alarm": "equipment.Alarm",
    "fast_count": "equipment.FastCount",
    "loan": "equipment.Loan",
    "sizing": "equipment.SizingReport",
    "call_out": "dispatch.CallOut",
    "plan": "dispatch.Plan",
    "shift": "dispatch.Shift",
    "help": "dispatch.HelpRequest",
}
# By kind: from a code to an id. A crew's code may have its day in front: 2026-01-15/TD01.
KINDS: dict[str, Callable[[str], int | None]] = {
    "area": _first(Area, "code"),
    "warehouse": _first(Warehouse, "code"),
    "vehicle": _first(Vehicle, "code"),
    "model": _first(EquipmentModel, "code"),
    "person": _first(Person, "user__username"),
    "crew": _crew,
    "job": _first(Job, "number"),
    **{kind: _nth(label) for kind, label in MADE.items()},
}
# The company's table and column that hold the codes of a kind; jobs are opened on the way.
TABLES: dict[str, tuple[str, str]] = {
    "area": ("areas", "code"),
    "warehouse": ("warehouses", "code"),
    "vehicle": ("vehicles", "code"),
    "model": ("equipment_models", "code"),
    "person": ("people", "user_name"),
    "crew": ("crews", "code"),
}
