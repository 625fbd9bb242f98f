"""
The planned day: routes, what was left out and why, what it costs, and how it was found.

Keys are the port's exactly. A plan read from outside promises nothing: ``check`` decides whether it holds.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field

from dispatch.planner.problem import Format, Name, Row, Span, Time
from dispatch.planner.reading import Part, read, validated

Whole = Annotated[int, Field(ge=-(2**62), le=2**62)]


class Stop(Part):
    """One visit on a route; ``leave_s = start_s + service_s`` unless it is begun and keeps its real times."""

    visit: Name
    arrive_s: Time = Field(validation_alias="arrive", serialization_alias="arrive")
    start_s: Time = Field(validation_alias="start", serialization_alias="start")
    leave_s: Time = Field(validation_alias="leave", serialization_alias="leave")


class Route(Part):
    """One crew's day. ``end_s`` is when it is back, or done where the crew has no end place."""

    crew: Name
    stops: Row[Stop] = ()
    break_span: Span | None = Field(default=None, validation_alias="break", serialization_alias="break")
    end_s: Time = Field(validation_alias="end", serialization_alias="end")
    driving_s: Whole = 0
    driving_m: Whole = 0
    overtime_s: Whole = 0


class Skipped(Part):
    """A visit that no route holds, with the binding rule in a dispatcher's words."""

    visit: Name
    code: Name
    message: Annotated[str, Field(max_length=10_000)]


class Cost(Part):
    """What a plan costs, term by term; ``total`` is the sum of the others."""

    total: Whole = 0
    driving: Whole = 0
    crews: Whole = 0
    lateness: Whole = 0
    overtime: Whole = 0
    moved: Whole = 0
    preference: Whole = 0
    skipped: Whole = 0


class Bound(Part):
    """
    No plan costs less than ``value``: ``proven`` for any plan at all, ``pool`` for the routes that the search saw.
    """

    value: Whole
    what: Literal["pool", "proven"]


class Search(Part):
    """How the plan was found."""

    seconds: Annotated[float, Field(ge=0)] = 0.0
    iterations: Whole = 0
    seed: Whole = 0
    routes_pooled: Whole = 0


class Plan(Part):
    format: Format = 1
    routes: Row[Route] = ()
    skipped: Row[Skipped] = ()
    cost: Cost = Cost()
    bound: Bound | None = None
    search: Search = Search()

    def to_json(self) -> dict[str, Any]:
        """The plan as the port writes it."""
        return self.model_dump(mode="json")


def read_plan(raw: bytes | str | object) -> Plan:
    """
    A plan from its JSON text, or from a JSON object already parsed.

    :raises Refused: with ``where``, if its form is not the port's.
    """
    if isinstance(raw, (bytes, str)):
        return read(Plan, raw)
    return validated(Plan, raw)
