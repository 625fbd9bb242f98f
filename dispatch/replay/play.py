"""Running a checked scenario on an empty database: the company, then step after step, timers between them."""

import json
import logging
from collections.abc import Iterator
from datetime import datetime, time
from hashlib import sha256
from typing import Any
from uuid import UUID, uuid5
from zoneinfo import ZoneInfo

from django.conf import settings
from django.contrib.auth.models import User
from django.db import transaction
from pydantic_core import to_jsonable_python

from dispatch.imports.company import import_company
from dispatch.replay import references
from dispatch.replay.looks import LOOKS
from dispatch.replay.scenario import PROGRAM, Night, ScenarioUnusable, Step, argument_problem, model_of
from dispatch.replay.verbs import verbs
from jobs import due_work
from jobs.models import UseCaseCall
from jobs.models.due_work import DueWork
from jobs.people import system_user
from jobs.refusals import Refusal

log = logging.getLogger(__name__)
REPLAY = UUID("3b5c1a54-3f0e-5f0c-9b53-6a7d0e1f2c84")
LINE = "replay"  # what a step's line is kept as, among the calls of use cases
Line = dict[str, Any]


def play(night: Night) -> Iterator[Line]:
    """
    One line for each step, in order; `failed` in it holds the expectations that did not hold.

    Each step, its timers and its line are one transaction: a replay that was stopped goes on where it was, and gives
    the lines of the steps that were done as they were. The company is there from the first step's midnight, and its
    days (+1, -2) count from that day.
    """
    first = night.steps[0].at
    zone = _zone(night)
    day = first.astimezone(zone).date()
    opened = datetime.combine(day, time(), tzinfo=zone)
    import_company(key=uuid5(REPLAY, "company"), actor=system_user(), now=opened, sheets=night.sheets, today=day)
    # Only once: a replay that goes on has its timers already, some of them done.
    if not UseCaseCall.objects.filter(verb=LINE).exists():
        due_work.ensure_standing(now=opened)
    results: dict[str, Any] = {}
    for number, step in enumerate(night.steps):
        key = uuid5(REPLAY, f"line {number}")
        done = UseCaseCall.objects.filter(key=key).first()
        if done is None:
            with transaction.atomic():
                line = one_step(number, step, results)
                keep(line, key=key, step=step)
        else:
            line = same_step(done, number, step, results)
        yield line


def keep(line: Line, *, key: UUID, step: Step) -> None:
    """Keep a step's line in the database, beside the calls of the use cases that it made."""
    UseCaseCall.objects.create(
        key=key,
        verb=LINE,
        actor=system_user(),
        now=step.at,
        arguments={"step": line["step"]},
        fingerprint=_print_of(step),
        answer=line,
    )


def same_step(done: UseCaseCall, number: int, step: Step, results: dict[str, Any]) -> Line:
    """
    The line of a step that was done before the replay was stopped.

    :raises ScenarioUnusable: if that was another step: the database belongs to another scenario.
    """
    if done.fingerprint != _print_of(step):
        raise ScenarioUnusable(
            "This database holds a replay of another scenario. Name an empty one.", where=f"steps[{number}]"
        )
    line: Line = done.answer or {}
    if step.as_ and "returned" in line:
        results[step.as_] = line["returned"]
    return line


def one_step(number: int, step: Step, results: dict[str, Any]) -> Line:
    """Fire what is due, do the step, keep what it returned under its name, and compare."""
    line: Line = {"step": number, "at": step.at.isoformat(), "who": step.who, "do": step.do}
    if step.as_:
        line["as"] = step.as_
    line["fired"] = fire(until=step.at)
    try:
        line["returned"] = do(number, step, results)
        if step.as_:
            results[step.as_] = line["returned"]
    except Refusal as refusal:
        data = to_jsonable_python(refusal.as_data(), fallback=str)
        line["refused"] = {"code": refusal.code, "message": refusal.message, "data": data}
    except references.Missing as missing:
        line["not_done"] = str(missing)
    except Exception as error:
        # The step's transaction is undone; what follows may still show more, and the exit status tells.
        log.exception("step %s (%s) broke", number, step.do)
        line["not_done"] = f"{type(error).__name__}: {error}"
    line["failed"] = failed(step, line, results)
    return line


def do(number: int, step: Step, results: dict[str, Any]) -> Any:
    """
    What the step's use case or page returns, as plain JSON values.

    :raises Refusal: if it is refused.
    :raises Missing: if it refers to something that is not there, or that is not what the argument wants.
    """
    model, given = model_of(step, f"steps[{number}]")
    told = references.resolve(given, results)
    if problem := argument_problem(model, told):
        raise references.Missing(f"with{problem[0]}: {problem[1]}")
    arguments = model.model_validate_json(json.dumps(told))
    actor = system_user() if step.who == PROGRAM else User.objects.get(username=step.who)
    if step.do in ("look", "offer"):
        page = "offers" if step.do == "offer" else step.with_["page"]
        answer = LOOKS[page].run(arguments, viewer=actor, now=step.at)
    else:
        key = uuid5(REPLAY, f"{number} {step.do}")
        answer = verbs()[step.do].run(arguments, key=key, actor=actor, now=step.at)
    return to_jsonable_python(answer, fallback=str)


def fire(*, until: datetime) -> list[Line]:
    """Do all work that is due by then, each piece at its own time and in their order; what that makes due as well."""
    fired = []
    clock: datetime | None = None
    while (row := _next_due(until)) is not None:
        clock = row.due_at if clock is None else max(clock, row.due_at)
        due_work.run_one(row.pk, now=clock)
        row.refresh_from_db()
        entry = {
            "at": clock.astimezone(until.tzinfo).isoformat(),
            "kind": row.kind,
            "state": row.state,
            "result": row.result,
        }
        fired.append({**entry, "error": row.error} if row.error else entry)
    return fired


def failed(step: Step, line: Line, results: dict[str, Any]) -> list[Line]:
    """The expectations that did not hold: where, what was expected, what was found."""
    if "not_done" in line:
        return [{"path": "", "expected": "the step to be done", "found": line["not_done"]}]
    if step.refused is not None:
        found = line["refused"]["code"] if "refused" in line else "not refused"
        return [] if found == step.refused else [{"path": "refused", "expected": step.refused, "found": found}]
    rows = []
    for path, wanted in step.expect.items():
        try:
            expected: Any = references.resolve(wanted, results)
            if "refused" in line:
                raise references.Missing(f"refused: {line['refused']['code']}")
            found = references.at_path(line["returned"], path)
        except references.Missing as missing:
            rows.append({"path": path, "expected": wanted, "found": str(missing)})
            continue
        if found != expected or isinstance(found, bool) != isinstance(expected, bool):
            rows.append({"path": path, "expected": expected, "found": found})
    return rows


def _next_due(until: datetime) -> DueWork | None:
    waiting = DueWork.objects.filter(state=DueWork.State.PENDING, due_at__lte=until)
    return waiting.order_by("due_at", "pk").first()


def _print_of(step: Step) -> str:
    return sha256(step.model_dump_json().encode()).hexdigest()


def _zone(night: Night) -> ZoneInfo:
    named = [row.cells.get("time_zone", "") for sheet in night.sheets if sheet.name == "areas" for row in sheet.rows]
    return ZoneInfo(named[0] if named else settings.TIME_ZONE)
