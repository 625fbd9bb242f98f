"""Sends what the OpenAPI description allows, and what it does not, and holds every answer against it."""

from collections import Counter
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cache
from typing import Any

import schemathesis
from django.core.signals import request_finished, request_started
from django.db import close_old_connections
from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st
from schemathesis import GenerationMode
from schemathesis.checks import not_a_server_error
from schemathesis.core.failures import Failure, FailureGroup
from schemathesis.specs.openapi import checks as held

from config.wsgi import application
from tests.config.api_world import World, description

CHECKS = [
    not_a_server_error,
    held.status_code_conformance,
    held.content_type_conformance,
    held.response_headers_conformance,
    held.response_schema_conformance,
]
QUIETLY = {
    "deadline": None,
    "database": None,
    "phases": (Phase.generate,),
    "suppress_health_check": list(HealthCheck),
}


@dataclass
class Findings:
    """What did not hold, by operation and kind; how many requests were sent, and how they were answered."""

    broken: dict[tuple[str, str], str] = field(default_factory=dict)
    statuses: Counter[int] = field(default_factory=Counter)

    def note(self, operation: str, failure: Failure, role: str, case: Any) -> None:
        told = (
            f"{operation} as {role}: {failure.title}: {failure.message[:600]} <- {case.path_parameters} {case.query} "
        )
        self.broken.setdefault((operation, failure.title), f"{told}{str(case.body)[:300]}")

    def __str__(self) -> str:
        return "\n\n".join(self.broken.values())


@contextmanager
def one_connection() -> Iterator[None]:
    """Keep the test's database connection through requests that do not come from Django's own test client."""
    for signal in (request_started, request_finished):
        signal.disconnect(close_old_connections)
    try:
        yield
    finally:
        for signal in (request_started, request_finished):
            signal.connect(close_old_connections)


@cache
def operations() -> tuple[Any, ...]:
    """Every operation of the description, which is sent to the program in this process."""
    described = schemathesis.openapi.from_dict(description())
    described.app = application
    return tuple(found.ok() for found in described.get_all_operations())


def hold(operation: Any, role: str, world: World, *, examples: int, findings: Findings) -> None:
    """Send so many requests to one operation, half of them outside of the description."""

    @seed(20260116)
    @settings(max_examples=examples, **QUIETLY)
    @given(
        case=st.one_of(operation.as_strategy(GenerationMode.POSITIVE), operation.as_strategy(GenerationMode.NEGATIVE)),
        data=st.data(),
    )
    def send(case: Any, data: st.DataObject) -> None:
        _lead_somewhere(case, data, world.ids)
        headers = world.headers(role)
        response = case.call(headers=headers)
        findings.statuses[response.status_code] += 1
        try:
            case.validate_response(response, checks=CHECKS, headers=headers)
        except FailureGroup as group:
            for failure in group.exceptions:
                findings.note(operation.label, failure, role, case)

    send()


def _lead_somewhere(case: Any, data: st.DataObject, ids: Mapping[str, tuple[Any, ...]]) -> None:
    """Random ids lead nowhere, and random keys and tags are refused first: most of the time send what goes farther."""
    if case.method != "GET" and data.draw(st.integers(0, 9)) < 9:
        case.headers = {name: value for name, value in (case.headers or {}).items() if name != "If-Match"}
        case.headers["Idempotency-Key"] = str(data.draw(st.uuids()))
    for where in (case.path_parameters, case.body):
        if not isinstance(where, dict):
            continue
        for name in where:
            if ids.get(name) and data.draw(st.integers(0, 9)) < 8:
                where[name] = data.draw(st.sampled_from(ids[name]))
