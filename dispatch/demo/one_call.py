"""One emergency call from a file, taken through the use cases of the desk: estimate, ranked crews, sending, route."""

import json
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any
from uuid import UUID, uuid4

from django.contrib.auth.models import User

from dispatch.demo.clock import DemoClock
from dispatch.emergencies import Sent, send
from dispatch.models import Stop
from dispatch.offering import Offers, offers
from jobs.intake import answer_call, take_call
from jobs.models import Call
from jobs.refusals import Refusal
from jobs.use_case import key_for

KEYS = {"format", "at", "answers", "rooms"}


class CallFileUnusable(Refusal):
    """The file is not a call."""

    code = "call_file_unusable"
    status = 422


class NobodyCanGo(Refusal):
    """No crew can take the call; each one's reason is in the data."""

    code = "nobody_can_go"


@dataclass(frozen=True)
class StopLine:
    """One stop on the route of the crew that was sent."""

    position: int
    arrive_at: datetime
    leave_at: datetime
    job_number: str
    address: str
    work: str
    fetch_from: str


@dataclass(frozen=True)
class CallReport:
    """Everything that became of one call."""

    at: datetime
    answers: dict[str, Any]
    rooms: tuple[dict[str, Any], ...]
    offers: Offers
    sent: Sent
    route: tuple[StopLine, ...]


def read_call(path: Path) -> dict[str, Any]:
    """
    The call in a file: `{"format": 1, "at": "0 22:47", "answers": {field: value}, "rooms": [cells]}`.

    `answers` has the fields of a call, `rooms` the cells of its rooms. Without `at` it rings now.

    :raises CallFileUnusable: if it is no JSON, has other keys, or has no answers.
    """
    try:
        told = json.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise CallFileUnusable(f"{path} cannot be read. Name a file such as fixtures_demo/call.json.") from error
    except ValueError as error:
        raise CallFileUnusable(f"{path.name} is no JSON: {error}.") from error
    if not isinstance(told, dict) or set(told) - KEYS or not {"format", "answers", "rooms"} <= set(told):
        raise CallFileUnusable(f"{path.name} must be an object with the keys format, answers, rooms and perhaps at.")
    if told["format"] != 1:
        raise CallFileUnusable(
            f"{path.name} has format {told['format']!r}; this program reads format 1.", where="format"
        )
    if not isinstance(told["answers"], dict) or not isinstance(told["rooms"], list):
        raise CallFileUnusable(
            f"{path.name}: answers is an object of fields, rooms a list of objects.", where="answers"
        )
    return told


def take(told: dict[str, Any], *, area_id: int, desk: User, clock: DemoClock) -> CallReport:
    """
    Take the call, work out what it needs, rank the crews, send the best one.

    :raises Unusable: if an answer cannot be meant (jobs.intake).
    :raises NotEnoughYet: if the call lacks what a crew needs.
    :raises NobodyCanGo: if no crew can take it.
    """
    key, at = uuid4(), _rings_at(told, clock)
    call_id = _answered(told, key=key, at=at, area_id=area_id, desk=desk)
    ranked = offers(call_id=call_id, now=at)
    if not ranked.offers:
        reasons = [f"{row.crew}: {row.reason}" for row in ranked.not_offered]
        raise NobodyCanGo("No crew can take this call. Ask a manager, or agree on a later time.", reasons=reasons)
    sent = send(
        key=key_for(key, "send"), actor=desk, now=at, call_id=call_id, crew_id=ranked.offers[0].crew_id, because="first"
    )
    call = Call.objects.get(pk=call_id)
    answers = {**call.answers, **call.private_answers}
    return CallReport(at.astimezone(clock.zone), answers, tuple(call.rooms), ranked, sent, _route(sent.crew_id))


def _rings_at(told: dict[str, Any], clock: DemoClock) -> datetime:
    if "at" not in told:
        return clock.now
    try:
        return max(clock.moment(str(told["at"])), clock.now)
    except ValueError as error:
        raise CallFileUnusable(str(error), where="at") from error


def _answered(told: dict[str, Any], *, key: UUID, at: datetime, area_id: int, desk: User) -> int:
    call = take_call(key=key_for(key, "call"), actor=desk, now=at, area_id=area_id)
    for field, value in (*told["answers"].items(), ("rooms", told["rooms"])):
        answer_call(
            key=key_for(key, f"answer {field}"),
            actor=desk,
            now=at,
            call_id=call.call_id,
            field=field,
            value=value,
            seen=0,
        )
    return call.call_id


def _route(crew_id: int) -> tuple[StopLine, ...]:
    stops = Stop.objects.filter(crew_id=crew_id).select_related("visit__job", "fetch_from", "crew__area")
    return tuple(
        StopLine(
            position=number,
            arrive_at=stop.arrive_at.astimezone(stop.crew.area.zone),
            leave_at=stop.leave_at.astimezone(stop.crew.area.zone),
            job_number=stop.visit.job.number,
            address=f"{stop.visit.job.street}, {stop.visit.job.town}, {stop.visit.job.state}",
            work=stop.visit.get_kind_display(),
            fetch_from="" if stop.fetch_from is None else stop.fetch_from.name,
        )
        for number, stop in enumerate(stops.order_by("position"), start=1)
    )
