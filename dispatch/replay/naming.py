"""Ids in recorded arguments as references that hold in another database: by code, by an earlier step, by position."""

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from django.apps import apps

from dispatch.models import Crew
from dispatch.replay.references import KINDS, MADE

# What an argument's id is of, where its name does not say it by itself.
ALIASES = {
    "to_job": "job",
    "from_warehouse": "warehouse",
    "to_warehouse": "warehouse",
    "from_place": "place",
    "to_place": "place",
    "own_help": "help",
    "with_shift": "shift",
    "next_visit": "visit",
}
BARE = {"follows": "visit"}  # ids whose names do not end in _id
CODES = {
    "area": "jobs.Area:code",
    "warehouse": "equipment.Warehouse:code",
    "vehicle": "equipment.Vehicle:code",
    "model": "equipment.EquipmentModel:code",
    "person": "dispatch.Person:user__username",
    "job": "jobs.Job:number",
}


def kind_of(name: str) -> str | None:
    """The kind of row whose id (or whose ids) an argument or a field of an answer holds; None if it holds none."""
    if name in BARE:
        return BARE[name]
    stem = name.removesuffix("_ids").removesuffix("_id")
    kind = ALIASES.get(stem, stem)
    return kind if stem != name and kind in KINDS else None


class Known:
    """What the steps so far returned, by kind and id."""

    def __init__(self, *, user: Callable[[str], str]) -> None:
        self._user = user
        self._paths: dict[tuple[str, int], tuple[str, str]] = {}
        self._codes: dict[tuple[str, int], str | None] = {}
        self.used: set[str] = set()

    def learn(self, step: str, answer: Any) -> None:
        """Every id in what a step returned is known by its path there."""
        for name, path, value in fields_of(answer):
            kind = kind_of(name)
            if kind is not None and type(value) is int:
                self._paths.setdefault((kind, value), (step, path))

    def reference(self, kind: str, row_id: int) -> str | int:
        """How a step names a row: a company's by its code, one made before by its step, any other by its position."""
        if kind == "crew":
            return _crew(row_id) or row_id
        if kind in CODES and kind != "job":
            code = self._code(kind, row_id)
            code = self._user(code) if code and kind == "person" else code
            return f"@{kind}:{code}" if code else row_id
        if (kind, row_id) in self._paths:
            step, path = self._paths[kind, row_id]
            self.used.add(step)
            return f"${step}.{path}"
        if kind == "job":
            number = self._code(kind, row_id)
            return f"@job:{number}" if number else row_id
        return f"@{kind}:{_position(kind, row_id)}"

    def arguments(self, verb: str, told: Mapping[str, Any]) -> dict[str, Any]:
        """A step's arguments with every id replaced; texts that would read as a reference have their sign doubled."""
        return {name: self._named(name, value, _special(verb, name, told)) for name, value in told.items()}

    def _named(self, name: str, value: Any, special: str | None = None) -> Any:
        kind = special or kind_of(name)
        if isinstance(value, Mapping):
            return {key: self._named(key, inner) for key, inner in value.items()}
        if special == "pools":
            return [[self.reference("pool", pool), quantity] for pool, quantity in value]
        if special == "load lines":
            return [self._line(*line) for line in value]
        if isinstance(value, list):
            return [self._named(name, inner) for inner in value]
        if kind is not None and type(value) is int:
            return self.reference(kind, value)
        if isinstance(value, str) and value.startswith(("$", "@")):
            return value[0] + value
        return value

    def _line(self, model: int, job: int | None, reservation: int | None, *rest: Any) -> list[Any]:
        pairs = (("model", model), ("job", job), ("reservation", reservation))
        return [*(None if row is None else self.reference(kind, row) for kind, row in pairs), *rest]

    def _code(self, kind: str, row_id: int) -> str | None:
        if (kind, row_id) not in self._codes:
            label, _, field = CODES[kind].partition(":")
            rows = apps.get_model(label)._default_manager.filter(pk=row_id)
            found = rows.values_list(field, flat=True).first()
            self._codes[kind, row_id] = None if found is None else str(found)
        return self._codes[kind, row_id]


def fields_of(value: Any, name: str = "", path: str = "") -> Iterator[tuple[str, str, Any]]:
    """(field, dotted path, value) of every plain value inside; a list's members have the list's field."""
    if isinstance(value, Mapping):
        for key, inner in value.items():
            # A key with a dot in it cannot be written in a path.
            if "." not in key:
                yield from fields_of(inner, key, f"{path}.{key}" if path else key)
    elif isinstance(value, list):
        for position, inner in enumerate(value):
            yield from fields_of(inner, name, f"{path}.{position}" if path else str(position))
    else:
        yield name, path, value


def _special(verb: str, name: str, told: Mapping[str, Any]) -> str | None:
    if name == "reading_id":
        return "air_reading" if told.get("kind") == "air" else "material_reading"
    return {("hold", "wanted"): "pools", ("write_load_list", "lines"): "load lines"}.get((verb, name))


def _crew(row_id: int) -> str | None:
    crew = Crew.objects.filter(pk=row_id).first()
    return None if crew is None else f"@crew:{crew.service_day.isoformat()}/{crew.name}"


def _position(kind: str, row_id: int) -> int:
    return int(apps.get_model(MADE[kind])._default_manager.filter(pk__lte=row_id).count())
