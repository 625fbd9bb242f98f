"""
The frame of every use case: who may, one transaction, one answer for one key, one stored record.

    @use_case("hold", private=("reason",))
    def hold(*, key: UUID, actor: User, now: datetime, job_id: int, ...) -> Held: ...

Arguments are plain values (ids, numbers, times, frozen dataclasses), never rows, so that the record can be replayed.
A use case called inside another belongs to the outer one's transaction, key and record.
"""

import functools
import inspect
import json
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from contextvars import ContextVar
from datetime import datetime
from typing import Any, ParamSpec, TypeVar, get_type_hints
from uuid import UUID, uuid5

from django.db import DataError, OperationalError, connection, transaction
from django.utils.crypto import salted_hmac
from pydantic import TypeAdapter
from pydantic_core import to_jsonable_python

from jobs import access, areas, rows
from jobs.models.record import UseCaseCall
from jobs.refusals import Busy, KeyReused, Refusal, Unusable

P = ParamSpec("P")
R = TypeVar("R")

_inside: ContextVar[bool] = ContextVar("inside a use case", default=False)
every: dict[str, Callable[..., Any]] = {}


def use_case(verb: str, *, private: tuple[str, ...] = ()) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """
    Make a function the use case `verb`; `private` names the arguments that are erased on schedule.

    :raises NotAllowed: from the function, if the actor's role does not hold the verb.
    :raises OtherArea: from the function, if it names something of an area in which the actor does not hold it.
    :raises KeyReused: from the function, if the key already stands for something else.
    :raises Busy: from the function, if others write for longer than we wait.
    :raises Unusable: from the function, if a value is larger than its column.
    """
    if verb not in access.VERBS:
        raise TypeError(f"{verb} stands in no row of the table of roles and verbs (jobs.access)")

    def decorate(function: Callable[P, R]) -> Callable[P, R]:
        kinds = {parameter.kind for parameter in inspect.signature(function).parameters.values()}
        if kinds != {inspect.Parameter.KEYWORD_ONLY}:
            raise TypeError(f"{verb}: a use case takes keyword arguments only")

        @functools.wraps(function)
        def call(*args: P.args, **kwargs: P.kwargs) -> R:
            if _inside.get():
                return function(*args, **kwargs)
            return _outermost(verb, function, dict(kwargs), private)

        every[verb] = call
        return call

    return decorate


def key_for(key: UUID, part: str) -> UUID:
    """The key of one part of a larger write: the same part of the same write has the same key."""
    return uuid5(key, part)


def _outermost(verb: str, function: Callable[..., R], arguments: dict[str, Any], private: tuple[str, ...]) -> R:
    actor, now, key = arguments["actor"], arguments["now"], arguments["key"]
    if not isinstance(now, datetime) or now.tzinfo is None:
        raise TypeError(f"{verb}: now must be a time with its zone")
    plain = {name: value for name, value in arguments.items() if name not in {"actor", "now", "key"}}
    stored = to_jsonable_python(plain)
    record = UseCaseCall(
        key=key,
        verb=verb,
        actor=actor,
        now=now,
        arguments={name: value for name, value in stored.items() if name not in private},
        private_arguments={name: value for name, value in stored.items() if name in private} or None,
        fingerprint=_fingerprint(verb, stored),
    )
    answers: TypeAdapter[R] = _answers(function)
    inside = _inside.set(True)
    try:
        access.require(actor, verb)
        with ExitStack() as stack:
            stack.enter_context(_what_can_be_kept())
            _begin(stack)
            _claim(record)
            # After the claim, so that a write which moved something to another area answers the same again.
            areas.require(actor, verb, arguments)
            answer = function(**arguments)
            record.answer = answers.dump_python(answer, mode="json")
            rows.update(record, "answer")
            return answer
    except _AlreadyAnswered as first:
        return answers.validate_python(first.answer)
    except Busy:
        # Nothing was decided, and to store that we got no turn would take a turn.
        raise
    except Refusal as refusal:
        record.pk, record.outcome = None, UseCaseCall.Outcome.REFUSED
        record.refusal = {
            "code": refusal.code,
            "message": refusal.message,
            "data": to_jsonable_python(refusal.as_record()),
        }
        record.answer = None
        with ExitStack() as stack:
            _begin(stack)
            record.save(force_insert=True)
        raise
    finally:
        _inside.reset(inside)


def _begin(stack: ExitStack) -> None:
    """
    :raises Busy: if SQLite, which lets one write at a time, gives us no turn within the connection's timeout.
    """
    try:
        stack.enter_context(transaction.atomic())
    except OperationalError as error:
        if connection.vendor != "sqlite":
            raise
        raise Busy("Others are writing without a pause at this moment. Nothing was changed; try again.") from error


@contextmanager
def _what_can_be_kept() -> Iterator[None]:
    """
    :raises Unusable: if a value is larger than its column, which only the database notices.
    """
    try:
        yield
    except (DataError, OverflowError) as error:
        raise Unusable("A number, date or text is larger than can be kept. Nothing was changed; send less.") from error


class _AlreadyAnswered(Exception):
    def __init__(self, answer: Any) -> None:
        super().__init__("answered before")
        self.answer = answer


def _claim(record: UseCaseCall) -> None:
    """
    Take the key for this call. The row is written before the work, so that a second call with the same key waits here.

    :raises KeyReused: if the key stands for another verb, actor or content.
    """
    if rows.insert(record, conflict="(key) WHERE outcome = 'done' DO NOTHING"):
        return
    first = UseCaseCall.objects.get(key=record.key, outcome=UseCaseCall.Outcome.DONE)
    if (first.verb, first.actor_id, first.fingerprint) != (record.verb, record.actor_id, record.fingerprint):
        raise KeyReused(
            f"The key {record.key} was already used for something else ({first.verb.replace('_', ' ')}). "
            "Send this again with a new key.",
            key=str(record.key),
        )
    raise _AlreadyAnswered(first.answer)


@functools.cache
def _answers(function: Callable[..., Any]) -> TypeAdapter[Any]:
    return TypeAdapter(get_type_hints(function)["return"])


def _fingerprint(verb: str, stored: dict[str, Any]) -> str:
    """Keyed with the secret, so that a phone number cannot be guessed back from it after it was erased."""
    text = json.dumps([verb, stored], sort_keys=True, separators=(",", ":"))
    return salted_hmac("ebbline.use_case", text, algorithm="sha256").hexdigest()
