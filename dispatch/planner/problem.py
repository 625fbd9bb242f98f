"""
The day to be planned: crews, visits, places, prices. Frozen, and impossible days cannot be built.

Times are whole seconds from the plan's zero, lengths whole metres, costs whole numbers of a unit of the caller's
choice. The JSON keys are the port's (``from``, ``break``, ``window``); the Python names carry their unit.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Annotated, Any, Self, TypeVar

from pydantic import AfterValidator, BeforeValidator, Field, ValidationError, model_validator

from dispatch.planner.reading import Part, Refused, impossible, read, refusal_of

T = TypeVar("T")

# About 115 days to either side: a plan is a day, and sums of such times stay far inside 64 bits.
LONGEST_S = 10_000_000
LONGEST_M = 100_000_000
HIGHEST_RATE = 10**9
HIGHEST_COST = 10**15
MOST_UNITS = 10**9
# The whole cost of any plan must fit a signed 64-bit word with room to add: the search counts in those.
HIGHEST_TOTAL = 2**61


def _listed(value: Any) -> Any:
    return tuple(value) if isinstance(value, list) else value


def _named(value: str) -> str:
    if not value.strip():
        raise ValueError("a name may not be blank")
    try:
        value.encode("utf-8")
    except UnicodeEncodeError:
        raise ValueError("a name must be valid Unicode text") from None
    return value


Row = Annotated[tuple[T, ...], BeforeValidator(_listed)]
Name = Annotated[str, Field(min_length=1, max_length=200), AfterValidator(_named)]
Time = Annotated[int, Field(ge=-LONGEST_S, le=LONGEST_S)]
Seconds = Annotated[int, Field(ge=0, le=LONGEST_S)]
Meters = Annotated[int, Field(ge=0, le=LONGEST_M)]
Rate = Annotated[int, Field(ge=0, le=HIGHEST_RATE)]
Price = Annotated[int, Field(ge=0, le=HIGHEST_COST)]
Units = Annotated[int, Field(ge=0, le=MOST_UNITS)]
Span = Annotated[tuple[Time, Time], BeforeValidator(_listed)]
Load = dict[Name, Units]
# Not a literal: to Python True and 1.0 are equal to 1, to the port they are not.
Format = Annotated[int, Field(ge=1, le=1)]


class Place(Part):
    """A point on the map, in decimal degrees (WGS 84)."""

    id: Name
    lat: Annotated[float, Field(ge=-90, le=90)]
    lon: Annotated[float, Field(ge=-180, le=180)]


class Stock(Part):
    """A place where missing equipment can be fetched; ``load_s`` is the time it takes to load there."""

    place: Name
    have: Load
    load_s: Seconds = 0


class Travel(Part):
    """Seconds and metres between places: row = from, column = to, in the order of ``places``; may be asymmetric."""

    seconds: Row[Row[Seconds]]
    meters: Row[Row[Meters]]


class Prices(Part):
    per_meter: Rate = 0
    per_driving_second: Rate = 1
    per_overtime_second: Rate = 1


class Break(Part):
    """``seconds`` long, starting at or after ``from_s`` and at or before ``until_s``."""

    seconds: Annotated[int, Field(ge=1, le=LONGEST_S)]
    from_s: Time = Field(validation_alias="from", serialization_alias="from")
    until_s: Time = Field(validation_alias="until", serialization_alias="until")

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.from_s > self.until_s:
            impossible("until", f"the break may start from {self.from_s} on, so not only until {self.until_s}")
        return self


class UnderWay(Part):
    """The visit a crew is driving to, and when it left for it."""

    to: Name
    left_s: Time = Field(validation_alias="left", serialization_alias="left")


class Begun(Part):
    """A visit that is done or under way, with its real times."""

    visit: Name
    start_s: Time = Field(validation_alias="start", serialization_alias="start")
    leave_s: Time = Field(validation_alias="leave", serialization_alias="leave")


class Crew(Part):
    """A crew with one vehicle for the day. ``end`` null: the day ends at the door of the last visit."""

    id: Name
    start: Name
    end: Name | None
    from_s: Time = Field(validation_alias="from", serialization_alias="from")
    until_s: Time = Field(validation_alias="until", serialization_alias="until")
    at_latest_s: Time = Field(validation_alias="at_latest", serialization_alias="at_latest")
    skills: Row[Name] = ()
    states: Row[Name] = ()
    capacity: Load = Field(default_factory=dict)
    fixed: Price = 0
    break_rule: Break | None = Field(default=None, validation_alias="break", serialization_alias="break")
    driving_limit_s: Seconds | None = None
    aboard: Load | None = None
    break_taken: Span | None = None
    under_way: UnderWay | None = None
    begun: Row[Begun] = ()

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.until_s < self.from_s:
            impossible("until", f"the shift ends at {self.until_s}, before it starts at {self.from_s}")
        if self.at_latest_s < self.until_s:
            impossible("at_latest", f"{self.at_latest_s} is before the shift's own end, {self.until_s}")
        if self.break_taken is not None and self.break_taken[1] < self.break_taken[0]:
            impossible("break_taken", "a break cannot end before it starts")
        last_s: int | None = None
        for i, done in enumerate(self.begun):
            if done.leave_s < done.start_s:
                impossible(f"begun[{i}].leave", f"left at {done.leave_s}, before the start at {done.start_s}")
            if last_s is not None and done.start_s < last_s:
                impossible(
                    f"begun[{i}].start", f"starts at {done.start_s}, before the visit before it is left, {last_s}"
                )
            last_s = done.leave_s
        if self.under_way is not None and last_s is not None and self.under_way.left_s < last_s:
            impossible(
                "under_way.left", f"left at {self.under_way.left_s}, before the last begun visit ended, {last_s}"
            )
        return self


class Visit(Part):
    """
    One stop somebody waits for.

    ``window_s`` binds the start of service, both ends included. ``skip`` is the cost of leaving it out, null when it
    must be served. ``prefer`` is a cost by crew, ``*`` meaning any crew not named.
    """

    id: Name
    place: Name
    service_s: Seconds
    window_s: Span | None = Field(default=None, validation_alias="window", serialization_alias="window")
    due_s: Time | None = Field(default=None, validation_alias="due", serialization_alias="due")
    per_late_second: Rate = 0
    skills: Row[Name] = ()
    state: Name | None = None
    deliver: Load = Field(default_factory=dict)
    collect: Load = Field(default_factory=dict)
    skip: Price | None = None
    only: Row[Name] | None = None
    prefer: dict[Name, Price] = Field(default_factory=dict)
    promised_s: Time | None = Field(default=None, validation_alias="promised", serialization_alias="promised")
    per_moved_second: Rate = 0

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.window_s is not None and self.window_s[1] < self.window_s[0]:
            impossible("window", f"the window ends at {self.window_s[1]}, before it opens at {self.window_s[0]}")
        return self


class Problem(Part):
    """A whole day; see the port for what each key means."""

    format: Format = 1
    now_s: Time = Field(default=0, validation_alias="now", serialization_alias="now")
    stock: Row[Stock] = ()
    places: Row[Place]
    travel: Travel | None = None
    prices: Prices = Prices()
    crews: Row[Crew]
    visits: Row[Visit]

    @model_validator(mode="after")
    def _sound(self) -> Self:
        _once((p.id for p in self.places), "places", "id")
        _once((c.id for c in self.crews), "crews", "id")
        _once((v.id for v in self.visits), "visits", "id")
        _once((s.place for s in self.stock), "stock", "place")
        _places_known(self)
        _matrix_square(self)
        _crews_sound(self)
        _visits_sound(self)
        _total_fits(self)
        return self

    def to_json(self) -> dict[str, Any]:
        """The problem as the port writes it."""
        return self.model_dump(mode="json")


def read_problem(raw: bytes | str) -> Problem:
    """
    A problem from its JSON text.

    :raises Refused: with ``where``, if anything about it is not as the port says.
    """
    return read(Problem, raw)


def build(crews: Sequence[Crew], visits: Sequence[Visit], places: Sequence[Place], **rest: Any) -> Problem:
    """
    A problem from parts made in Python; ``rest`` takes ``now_s``, ``stock``, ``travel`` and ``prices``.

    :raises Refused: as ``read_problem`` does.
    """
    try:
        return Problem(crews=tuple(crews), visits=tuple(visits), places=tuple(places), **rest)
    except ValidationError as error:
        raise refusal_of(error) from None


def _once(names: Iterable[str], table: str, key: str) -> None:
    seen: set[str] = set()
    for i, name in enumerate(names):
        if name in seen:
            impossible(f"{table}[{i}].{key}", f'"{name}" stands twice; each must have a name of its own')
        seen.add(name)


def _places_known(problem: Problem) -> None:
    known = {p.id for p in problem.places}
    wanted: list[tuple[str, str | None]] = []
    wanted += [(f"stock[{i}].place", s.place) for i, s in enumerate(problem.stock)]
    for i, crew in enumerate(problem.crews):
        wanted += [(f"crews[{i}].start", crew.start), (f"crews[{i}].end", crew.end)]
    wanted += [(f"visits[{i}].place", v.place) for i, v in enumerate(problem.visits)]
    for where, name in wanted:
        if name is not None and name not in known:
            impossible(where, f'"{name}" is not one of the places')


def _matrix_square(problem: Problem) -> None:
    if problem.travel is None:
        return
    n = len(problem.places)
    for key, rows in (("seconds", problem.travel.seconds), ("meters", problem.travel.meters)):
        if len(rows) != n:
            impossible(f"travel.{key}", f"{len(rows)} rows for {n} places; one row for each place is needed")
        for i, row in enumerate(rows):
            if len(row) != n:
                impossible(f"travel.{key}[{i}]", f"{len(row)} numbers for {n} places; one for each place is needed")


def _crews_sound(problem: Problem) -> None:
    visits = {v.id for v in problem.visits}
    taken: dict[str, str] = {}

    def claim(where: str, visit: str, crew: str) -> None:
        if visit not in visits:
            impossible(where, f'"{visit}" is not one of the visits')
        if visit in taken:
            impossible(where, f'"{visit}" is already with crew "{taken[visit]}"')
        taken[visit] = crew

    for i, crew in enumerate(problem.crews):
        for k, done in enumerate(crew.begun):
            claim(f"crews[{i}].begun[{k}].visit", done.visit, crew.id)
            if done.start_s > problem.now_s:
                impossible(f"crews[{i}].begun[{k}].start", f"starts at {done.start_s}, after now, {problem.now_s}")
        if crew.under_way is not None:
            claim(f"crews[{i}].under_way.to", crew.under_way.to, crew.id)
            if crew.under_way.left_s > problem.now_s:
                impossible(f"crews[{i}].under_way.left", f"{crew.under_way.left_s} is after now, {problem.now_s}")
        if crew.break_taken is not None and crew.break_taken[0] > problem.now_s:
            impossible(f"crews[{i}].break_taken", f"a break already had cannot start after now, {problem.now_s}")


def _visits_sound(problem: Problem) -> None:
    crews = {c.id for c in problem.crews}
    for i, visit in enumerate(problem.visits):
        for k, name in enumerate(visit.only or ()):
            if name not in crews:
                impossible(f"visits[{i}].only[{k}]", f'"{name}" is not one of the crews')
        for name in visit.prefer:
            if name != "*" and name not in crews:
                impossible(f"visits[{i}].prefer.{name}", f'"{name}" is not one of the crews; "*" means any other')


def _total_fits(problem: Problem) -> None:
    """Refuse prices whose sum could leave 64 bits, so that no engine ever counts modulo a machine word."""
    prices = problem.prices
    day_s = 2 * LONGEST_S
    legs = len(problem.visits) + len(problem.crews)
    total = legs * (prices.per_meter * _longest_leg(problem, 0) + prices.per_driving_second * _longest_leg(problem, 1))
    total += sum(c.fixed for c in problem.crews) + len(problem.crews) * prices.per_overtime_second * day_s
    for visit in problem.visits:
        total += (visit.skip or 0) + max(visit.prefer.values(), default=0)
        total += day_s * (visit.per_late_second + visit.per_moved_second)
    if total > HIGHEST_TOTAL:
        impossible("prices", "prices and penalties could add up beyond 64 bits; choose a larger unit of cost")


def _longest_leg(problem: Problem, which: int) -> int:
    if problem.travel is None:
        return LONGEST_S
    rows = (problem.travel.meters, problem.travel.seconds)[which]
    return max((max(row, default=0) for row in rows), default=0)


__all__ = ["Begun", "Break", "Crew", "Place", "Prices", "Problem", "Refused", "Stock", "Travel", "UnderWay", "Visit"]
__all__ += ["build", "read_problem"]
