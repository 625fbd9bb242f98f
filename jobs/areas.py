"""
Whose area a write is about: looked up from what it names, and held against the areas of the actor's roles.

Each app says of its own ids in which area they lie. An id that nobody registered is a mistake, which a test finds.
Which unit numbers were scanned is not asked: the floor wins over the record, also over the record's area.
"""

from collections.abc import Callable, Collection, Iterable, Mapping
from functools import cache
from typing import Any

from django.db import connection

from jobs import access, rows
from jobs.models import AirReading, Area, Call, Contact, Job, MaterialReading, Photo, Promise, Visit
from jobs.refusals import Refusal

# Areas of the rows with these ids; the second argument is all that was named, where one id alone does not say enough.
# What does not exist lies in no area: the use case says so itself.
Lookup = Callable[[Collection[Any], Mapping[str, Any]], Iterable[int | None]]

# Areas in which somebody works for a while beside those of their roles, as a crew that helps out.
Beside = Callable[[Any], frozenset[int]]

_lookups: dict[str, Lookup] = {}
_beside: list[Beside] = []


class OtherArea(Refusal):
    """What is named belongs to a service area in which the asker holds no role that may do this."""

    code = "other_area"
    status = 403


def register(argument: str, lookup: Lookup, *, verb: str = "") -> None:
    """Say in which area the rows named by an argument lie; `verb` limits that to one use case."""
    _lookups[f"{verb}:{argument}"] = lookup


def register_beside(function: Beside) -> None:
    """Let `function(user)` say in which other areas the user works at present."""
    if function not in _beside:
        _beside.append(function)


def lookup_for(argument: str, *, verb: str = "") -> Lookup | None:
    """How to find the areas of an argument's rows; None where it names none."""
    return _lookups.get(f"{verb}:{argument}") or _lookups.get(f":{argument}")


def require(actor: Any, verb: str, arguments: Mapping[str, Any]) -> None:
    """
    :raises OtherArea: if an argument names something of an area in which the actor does not hold the verb.
    """
    mine = access.areas_for(actor, verb)
    if mine is not None:
        _require(actor, mine, verb, arguments)


def require_sight(viewer: Any, named: Mapping[str, Any]) -> None:
    """
    The same for looking: `named` is what stands in the address.

    :raises OtherArea: if that is of an area in which the viewer holds no role.
    """
    mine = access.areas_of(viewer)
    if mine is not None:
        _require(viewer, mine, "", named)


def _require(who: Any, mine: frozenset[int], verb: str, named: Mapping[str, Any]) -> None:
    for argument, value in named.items():
        lookup = lookup_for(argument, verb=verb)
        if lookup is None or value is None:
            continue
        values = value if isinstance(value, (tuple, list)) else (value,)
        foreign = {area_id for area_id in lookup(values, named) if area_id is not None} - mine
        if foreign and foreign - frozenset().union(*(areas(who) for areas in _beside)):
            names = ", ".join(Area.objects.filter(pk__in=foreign).order_by("name").values_list("name", flat=True))
            raise OtherArea(
                f"This belongs to {names}, where you hold no role for it. Ask a manager for the role, or ask that area "
                "for help.",
                where=argument,
            )


def of(model: Any, path: str, *, key: str = "pk") -> Lookup:
    """A lookup by primary key, or another one; `path` leads from the row to its area's id."""

    field = model._meta.pk if key == "pk" else model._meta.get_field(key)

    @cache
    def text_for_one(vendor: str) -> str:
        asked = model.objects.order_by().filter(**{key: 0}).values_list(path)
        return str(asked.query.get_compiler(connection=connection).as_sql()[0])

    def find(keys: Collection[Any], named: Mapping[str, Any]) -> Iterable[int | None]:
        if len(keys) != 1:
            return model.objects.filter(**{f"{key}__in": keys}).values_list(path, flat=True)
        # Every scan and every booking asks this of one row: the text is made once.
        (one,) = keys
        return [area_id for (area_id,) in rows.select(text_for_one(connection.vendor), [field.get_prep_value(one)])]

    return find


def _areas(keys: Collection[Any], named: Mapping[str, Any]) -> Iterable[int | None]:
    return keys


def _readings(keys: Collection[Any], named: Mapping[str, Any]) -> Iterable[int | None]:
    if named.get("kind") == "air":
        return AirReading.objects.filter(pk__in=keys).values_list("job__area_id", flat=True)
    return MaterialReading.objects.filter(pk__in=keys).values_list("point__job__area_id", flat=True)


register("area_id", _areas)
register("area", of(Area, "pk", key="code"))
register("contact_id", of(Contact, "job__area_id"))
register("call_id", of(Call, "area_id"))
register("job_id", of(Job, "area_id"))
register("job_number", of(Job, "area_id", key="number"))
register("into_job_id", of(Job, "area_id"))
register("to_job_id", of(Job, "area_id"))
register("visit_id", of(Visit, "job__area_id"))
register("photo_id", of(Photo, "job__area_id"))
register("promise_id", of(Promise, "area_id"))
register("reading_id", _readings)
