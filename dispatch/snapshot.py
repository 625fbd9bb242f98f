"""
From the tables to the planner's problem: what is known at `now`, as JSON that can be stored and solved again.

Times count in whole seconds from `zero`, the first midnight of the service day in the area's zone.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from typing import Any

from dispatch import agreed, eligibility
from dispatch.crew_facts import CrewRow
from dispatch.eligibility import Reason
from dispatch.models import Stop
from dispatch.rules import figure
from jobs.models import Area, Visit

BEGUN = frozenset({Visit.State.UNDER_WAY, Visit.State.DONE, Visit.State.CANNOT_WORK})
STATES = ("OR", "WA")
WHOLE_DAY_S = 24 * 3600


@dataclass(frozen=True)
class Snapshot:
    """
    The problem in the port's JSON, the crews that are barred from it with the reason, and the zero of its clock.

    `limited` crews are in it for the visits alone for which a manager has overridden what bars them.
    """

    zero: datetime
    problem: dict[str, Any]
    barred: tuple[tuple[str, Reason], ...] = ()
    limited: tuple[tuple[str, Reason], ...] = ()
    routes: list[dict[str, Any]] = field(default_factory=list)

    def at(self, seconds: int) -> datetime:
        """The moment that so many seconds from zero are."""
        return self.zero + timedelta(seconds=seconds)


def crew_key(crew_id: int) -> str:
    return f"c{crew_id}"


def visit_key(visit_id: int) -> str:
    return f"v{visit_id}"


def id_of(key: str) -> int:
    """The row's id behind a crew's or a visit's name in a problem."""
    return int(key[1:])


def zero_of(area: Area, day: date) -> datetime:
    """The first moment of the day in the area's zone."""
    return datetime.combine(day, time(), tzinfo=area.zone)


def build(
    *,
    area: Area,
    day: date,
    now: datetime,
    rows: Sequence[CrewRow],
    visits: Iterable[Visit],
    aboard: Mapping[int, Mapping[str, int]] | None = None,
    keep: bool = True,
    soft: bool = False,
) -> Snapshot:
    """
    The day's problem.

    :param visits: visits to be planned besides those on the crews' routes; their jobs are read with them.
    :param aboard: units by vehicle id and kind, or None when it is not asked (day plans).
    :param keep: price it when a published visit changes its crew or its hour.
    :param soft: let the ends of promised windows on running routes be late at a price.
    """
    zero = zero_of(area, day)
    maker = _Maker(zero=zero, now=now, aboard=aboard, keep=keep, soft=soft)
    barred: list[tuple[str, Reason]] = []
    limited: dict[str, Reason] = {}
    for row in rows:
        reason = eligibility.why_not_fit(row.facts, at=max(now, row.crew.starts_at))
        begun = any(stop.visit.state in BEGUN or stop.visit.left_at for stop in row.stops)
        if reason is not None and not begun:
            if not agreed.may_go_somewhere(row, now=now):
                barred.append((crew_key(row.crew.pk), reason))
                continue
            limited[crew_key(row.crew.pk)] = reason
        maker.add_crew(row, limited=reason is not None and not begun)
    for visit in visits:
        maker.add_visit(visit)
    problem = {
        "format": 1,
        "now": maker.second(now),
        "stock": [],
        "places": maker.places,
        "travel": None,
        "prices": {name: figure(name) for name in ("per_meter", "per_driving_second", "per_overtime_second")},
        "crews": maker.crews,
        "visits": list(maker.visits.values()),
    }
    own = {name: route["crew"] for route in maker.routes for name in route["visits"] if route["crew"] in limited}
    agreed.agree(problem, rows, maker.works, now=now, limited=tuple(limited), own=own if soft else None)
    shot_routes = maker.routes if soft else [_allowed(problem, route, limited) for route in maker.routes]
    return Snapshot(
        zero=zero, problem=problem, barred=tuple(barred), limited=tuple(limited.items()), routes=shot_routes
    )


def _allowed(problem: Mapping[str, Any], route: dict[str, Any], limited: Mapping[str, Reason]) -> dict[str, Any]:
    """A day plan takes from a limited crew's route whatever no manager's word covers."""
    if route["crew"] not in limited:
        return route
    crew = next(crew for crew in problem["crews"] if crew["id"] == route["crew"])
    skills = {visit["id"]: set(visit["skills"]) for visit in problem["visits"]}
    return {**route, "visits": [name for name in route["visits"] if skills[name] <= set(crew["skills"])]}


class _Maker:
    """Gathers places, crews and visits; each place stands once."""

    def __init__(
        self,
        *,
        zero: datetime,
        now: datetime,
        aboard: Mapping[int, Mapping[str, int]] | None,
        keep: bool,
        soft: bool,
    ) -> None:
        self.zero, self.now, self.aboard, self.keep, self.soft = zero, now, aboard, keep, soft
        self.places: list[dict[str, Any]] = []
        self.crews: list[dict[str, Any]] = []
        self.visits: dict[str, dict[str, Any]] = {}
        self.routes: list[dict[str, Any]] = []
        self.works: dict[str, agreed.Work] = {}
        self._known: set[str] = set()

    def second(self, moment: datetime) -> int:
        return round((moment - self.zero).total_seconds())

    def place(self, name: str, lat: float, lon: float) -> str:
        if name not in self._known:
            self._known.add(name)
            self.places.append({"id": name, "lat": lat, "lon": lon})
        return name

    def add_crew(self, row: CrewRow, *, limited: bool = False) -> None:
        crew, facts = row.crew, row.facts
        start = self.place(crew.start.code, crew.start.lat, crew.start.lon)
        end = None if crew.end is None else self.place(crew.end.code, crew.end.lat, crew.end.lon)
        begun, ahead, under_way = _split(row.stops)
        begun_json = [self._begun(stop) for stop in begun]
        from_s = self.second(crew.starts_at)
        self.crews.append(
            {
                "id": crew_key(crew.pk),
                "start": start,
                "end": end,
                "from": from_s,
                "until": self.second(crew.ends_at),
                "at_latest": self.second(crew.at_latest),
                "skills": [] if limited else sorted(eligibility.able_to(facts, on=row.on, states=STATES)),
                "states": sorted(facts.firm_states),
                "capacity": {key: int(value) for key, value in crew.vehicle.capacity.items()},
                "fixed": figure("crew_out"),
                "break": self._break(from_s),
                "driving_limit_s": None,
                "aboard": None if self.aboard is None else dict(self.aboard.get(crew.vehicle_id, {})),
                "break_taken": None,
                "under_way": None if under_way is None else self._under_way(under_way),
                "begun": begun_json,
            }
        )
        order: list[str] = []
        for stop in (*begun, *ahead):
            if stop.fetch_from is not None and stop.visit.arrived_at is None and stop.fetched_at is None:
                order.append(self._add_fetch(stop))
            self.add_visit(stop.visit, crew_id=crew.pk)
            order.append(visit_key(stop.visit_id))
        if order:
            self.routes.append({"crew": crew_key(crew.pk), "visits": order})

    def _break(self, from_s: int) -> dict[str, int] | None:
        """The break still to be planned. One whose hours are over was had: owing it would bar the crew for the day."""
        hour = 3600
        until_s = from_s + figure("break_until_hours") * hour
        if until_s < self.second(self.now):
            return None
        return {
            "seconds": figure("break_seconds"),
            "from": from_s + figure("break_from_hours") * hour,
            "until": until_s,
        }

    def _add_fetch(self, stop: Stop) -> str:
        """The detour to a warehouse before a stop: a visit of its own that only this crew makes."""
        key = f"f{stop.visit_id}"
        where = stop.fetch_from
        assert where is not None
        self.visits[key] = fetch_visit(
            key, crew=crew_key(stop.crew_id), place=self.place(where.code, where.lat, where.lon), load_s=where.load_s
        )
        return key

    def _under_way(self, stop: Stop) -> dict[str, Any]:
        left_at = stop.visit.left_at
        assert left_at is not None
        return {"to": visit_key(stop.visit_id), "left": min(self.second(left_at), self.second(self.now))}

    def _begun(self, stop: Stop) -> dict[str, Any]:
        visit = stop.visit
        start = self.second(visit.arrived_at or stop.start_at)
        if visit.finished_at is not None:
            leave = self.second(visit.finished_at)
        else:
            leave = max(start + visit.service_s, self.second(self.now))
        return {"visit": visit_key(visit.pk), "start": min(start, self.second(self.now)), "leave": max(leave, start)}

    def add_visit(self, visit: Visit, *, crew_id: int | None = None) -> None:
        key = visit_key(visit.pk)
        if key in self.visits:
            return
        job = visit.job
        emergency = visit.kind == Visit.Kind.EMERGENCY
        window, due = self._when(visit, soft=self.soft and crew_id is not None)
        skills = list(visit.needs.get("skills", ["water"]))
        self.works[key] = agreed.Work(tuple(skills), job.state, job_id=job.pk)
        kept = self.keep and crew_id is not None
        promised = visit.promised_start if kept else None
        self.visits[key] = {
            "id": key,
            "place": self.place(f"job {job.number}", job.lat, job.lon),
            "service_s": visit.service_s,
            "window": window,
            "due": due,
            "per_late_second": 0 if due is None else figure("per_late_second"),
            "skills": skills,
            "state": job.state,
            "deliver": dict(visit.needs.get("deliver", {})),
            "collect": dict(visit.needs.get("collect", {})),
            "skip": None if emergency else figure("left_out"),
            "only": None,
            "prefer": {crew_key(crew_id): 0, "*": figure("other_crew")} if kept and crew_id is not None else {},
            "promised": None if promised is None else self.second(promised),
            "per_moved_second": 0 if promised is None else figure("per_moved_second"),
        }

    def _when(self, visit: Visit, *, soft: bool) -> tuple[list[int] | None, int | None]:
        """
        The window and the soft due time of a visit.

        On a running route a window's end is soft: a crew that is late already must still have a route.
        """
        due = None if visit.due_at is None else self.second(visit.due_at)
        if visit.window_from is None or visit.window_until is None:
            return None, due
        opens, ends = self.second(visit.window_from), self.second(visit.window_until)
        if not soft:
            return [opens, ends], due
        return [opens, ends + WHOLE_DAY_S], ends if due is None else min(due, ends)


def fetch_visit(key: str, *, crew: str, place: str, load_s: int) -> dict[str, Any]:
    """A stop at a warehouse to load what is missing, as the planner's visit of one crew."""
    return {
        "id": key,
        "place": place,
        "service_s": load_s,
        "window": None,
        "due": None,
        "per_late_second": 0,
        "skills": [],
        "state": None,
        "deliver": {},
        "collect": {},
        "skip": None,
        "only": [crew],
        "prefer": {},
        "promised": None,
        "per_moved_second": 0,
    }


def _split(stops: Sequence[Stop]) -> tuple[list[Stop], list[Stop], Stop | None]:
    """Begun stops in the order they were begun, those ahead in route order, and the one being driven to."""
    begun = [stop for stop in stops if stop.visit.state in BEGUN and stop.visit.arrived_at is not None]
    begun.sort(key=lambda stop: (stop.visit.arrived_at, stop.position))
    done = {stop.pk for stop in begun}
    open_states = (Visit.State.DUE, Visit.State.UNDER_WAY)
    ahead = [stop for stop in stops if stop.pk not in done and stop.visit.state in open_states]
    moving = next((stop for stop in ahead if stop.visit.left_at is not None), None)
    if moving is not None:
        ahead = [moving, *(stop for stop in ahead if stop is not moving)]
    return begun, ahead, moving
