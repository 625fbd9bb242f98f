"""Reading what the call page sends: one field from the script, the whole form from a browser without one."""

import json
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Any
from uuid import UUID, uuid4
from zoneinfo import ZoneInfo

from django.http import HttpRequest, QueryDict

from jobs.calls import fields, rooms
from jobs.facts import CallFacts
from jobs.refusals import Unusable
from jobs.sent import whole


@dataclass(frozen=True)
class Typed:
    """One field as it was sent."""

    key: UUID
    field: str
    value: Any
    seen: int


def one_field(request: HttpRequest) -> Typed:
    """
    The script's JSON: `{"key", "field", "value", "seen"}`.

    :raises Unusable: if it is not that.
    """
    try:
        sent = json.loads(request.body)
        return Typed(UUID(str(sent["key"])), str(sent["field"]), sent["value"], int(sent["seen"]))
    except (ValueError, KeyError, TypeError) as error:
        raise Unusable("A save names its key, field, value and the version it has seen.") from error


def whole_form(request: HttpRequest, facts: CallFacts) -> tuple[Typed, ...]:
    """The fields of a plain form that differ from what is kept, each as a save of its own."""
    form = request.POST
    named = [field.key for field in fields.FIELDS]
    named += [name for name in form if rooms.is_room_field(name) and not name.startswith("room:new:")]
    changed = [_typed(form, name, facts) for name in named if name in form or _is_choices(name, form)]
    changed += _new_room(form)
    return tuple(typed for typed in changed if typed is not None)


def day_of(request: HttpRequest, name: str) -> date:
    """
    :raises Unusable: if no day stands there.
    """
    try:
        return date.fromisoformat(request.POST.get(name, ""))
    except ValueError as error:
        raise Unusable("Choose a day.", where=name) from error


def time_on(request: HttpRequest, name: str, day: date, zone: str) -> datetime | None:
    """
    A time of day in a zone; None when nothing stands there.

    :raises Unusable: if it is no time.
    """
    typed = request.POST.get(name, "").strip()
    if not typed:
        return None
    try:
        return datetime.combine(day, time.fromisoformat(typed), ZoneInfo(zone))
    except ValueError as error:
        raise Unusable("A time is hours and minutes: 08:30.", where=name) from error


def _typed(form: QueryDict, name: str, facts: CallFacts) -> Typed | None:
    value = ",".join(form.getlist(name)) if _is_choices(name, form) else form.get(name, "")
    if value.strip() == form.get(f"was:{name}", "").strip():
        return None
    seen = form.get(f"seen:{name}", "0")
    return Typed(uuid4(), name, value, whole(seen) or 0)


def _is_choices(name: str, form: QueryDict) -> bool:
    field = fields.BY_KEY.get(name)
    return field is not None and field.kind == "choices" and f"seen:{name}" in form


def _new_room(form: QueryDict) -> list[Typed | None]:
    line = form.get("room:new:line", "").strip()
    return [Typed(uuid4(), f"room:{uuid4().hex[:8]}:line", line, 0)] if line else []
