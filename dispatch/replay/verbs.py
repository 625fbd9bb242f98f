"""What a step may do: every use case under its own name, a few short names, and `look`."""

import inspect
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from importlib import import_module
from pathlib import Path
from typing import Any, get_type_hints
from uuid import UUID

from django.apps import apps
from django.contrib.auth.models import User
from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, create_model

from jobs import use_case as frame
from jobs.intake import answer_call, take_call
from jobs.use_case import key_for

# The packages that write use cases; importing a module enters its own in the registry.
PACKAGES = ("jobs", "equipment", "dispatch")
MARK = "@use_case("
# Short names of the commonest use cases.
SHORT = {
    "close": "close_job",
    "merge": "merge_jobs",
    "move": "move_units",
    "read": "record_readings",
    "release": "release_lead",
    "split": "split_jobs",
}
GIVEN = ("key", "actor", "now")
# A time without its zone could be any of several moments.
AWARE: dict[Any, Any] = {datetime: AwareDatetime, datetime | None: AwareDatetime | None}
STRICT = ConfigDict(extra="forbid", strict=True, arbitrary_types_allowed=True, protected_namespaces=())


@dataclass(frozen=True)
class Verb:
    """One thing that a step may do: the model of its arguments and the function that does it."""

    name: str
    arguments: type[BaseModel]
    function: Callable[..., Any]
    says: str

    def run(self, checked: BaseModel, *, key: UUID, actor: User, now: datetime) -> Any:
        """Do it with the arguments as the model read them."""
        given = {name: getattr(checked, name) for name in checked.model_fields_set}
        return self.function(key=key, actor=actor, now=now, **given)


@dataclass(frozen=True)
class Taken:
    """A call whose form was filled in at once."""

    call_id: int
    answered: int


def take(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    area_id: int,
    callback_number: str = "",
    answers: Mapping[str, Any],
    rooms: list[Any] | None = None,
) -> Taken:
    """A call and the answers to its fields, one use case after the other, as the desk's form saves them."""
    call = take_call(key=key, actor=actor, now=now, area_id=area_id, callback_number=callback_number)
    fields = dict(answers) | ({} if rooms is None else {"rooms": rooms})
    for field, value in fields.items():
        answer_call(
            key=key_for(key, f"answer {field}"),
            actor=actor,
            now=now,
            call_id=call.call_id,
            field=field,
            value=value,
            seen=0,
        )
    return Taken(call.call_id, len(fields))


@cache
def verbs() -> Mapping[str, Verb]:
    """Every verb but `look` and `offer`, by name."""
    for module in _modules():
        import_module(module)
    found = {
        name: Verb(name, arguments_of(name, function), function, _first_line(function))
        for name, function in sorted(frame.every.items())
        if function.__module__.partition(".")[0] in PACKAGES
    }
    short = {name: Verb(name, found[full].arguments, found[full].function, full) for name, full in SHORT.items()}
    return {**found, **short, "take": Verb("take", arguments_of("take", take), take, _first_line(take))}


def arguments_of(name: str, function: Callable[..., Any], given: tuple[str, ...] = GIVEN) -> type[BaseModel]:
    """A model of a function's keyword arguments, without those that the step itself gives."""
    hints = get_type_hints(function)
    fields: dict[str, Any] = {
        parameter.name: (
            AWARE.get(hints[parameter.name], hints[parameter.name]),
            Field() if parameter.default is inspect.Parameter.empty else Field(default=parameter.default),
        )
        for parameter in inspect.signature(function).parameters.values()
        if parameter.name not in given
    }
    return create_model(f"with_{name}", __config__=STRICT, **fields)


def _modules() -> Iterator[str]:
    """The modules in which a use case is written, found by their text: importing all others would cost seconds."""
    for package in PACKAGES:
        folder = Path(apps.get_app_config(package).path)
        for path in sorted(folder.rglob("*.py")):
            if MARK in path.read_text(encoding="utf-8"):
                yield ".".join((package, *path.relative_to(folder).with_suffix("").parts))


def _first_line(function: Callable[..., Any]) -> str:
    return (inspect.getdoc(function) or "").partition("\n\n")[0].replace("\n", " ")
