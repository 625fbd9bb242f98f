"""
Who could take one more visit: every crew in exactly one of two lists, the offers ranked by what they add.

Where a crew stands is taken from the problem, not from the plan: what is begun or under way comes first, and the
rest of its day is what the plan still holds for it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from dispatch.planner.explain import why_not
from dispatch.planner.finish import draft_of, orders_of
from dispatch.planner.fitting import Misfit
from dispatch.planner.frame import Frame, frame_of
from dispatch.planner.insertion import Spot, best_spot, fetch_times, shortage, stocks_with
from dispatch.planner.outlook import Outlook, outlook_of
from dispatch.planner.plan import Plan
from dispatch.planner.problem import Problem
from dispatch.planner.reading import Refused
from dispatch.planner.schedule import Timed, as_route
from dispatch.planner.words import reason


@dataclass(frozen=True)
class Fetch:
    """What is loaded on the way, where and when."""

    place: str
    take: dict[str, int]
    arrive_s: int
    leave_s: int


@dataclass(frozen=True)
class Delay:
    """A visit that starts so many seconds later than due (``made_late``) or away from its promise (``moved``)."""

    visit: str
    by_s: int


@dataclass(frozen=True)
class Offer:
    """
    One crew that can take the visit, exactly: the times, what it adds, and whom it hurts.

    ``made_late``: visits that become late, or later than they were, by the seconds more. ``moved``: promised visits
    whose start changes, by the signed seconds. ``missing``: what no stock place has, where that is all there is.
    """

    crew: str
    position: int
    fetch: Fetch | None
    arrive_s: int
    start_s: int
    added_cost: int
    added_driving_s: int
    made_late: tuple[Delay, ...]
    moved: tuple[Delay, ...]
    missing: dict[str, int] = field(default_factory=dict)

    def to_json(self) -> dict[str, Any]:
        fetch = self.fetch
        shown: dict[str, Any] = {
            "crew": self.crew,
            "position": self.position,
            "fetch": None
            if fetch is None
            else {"place": fetch.place, "take": fetch.take, "arrive": fetch.arrive_s, "leave": fetch.leave_s},
            "arrive": self.arrive_s,
            "start": self.start_s,
            "added_cost": self.added_cost,
            "added_driving_s": self.added_driving_s,
            "made_late": [{"visit": d.visit, "by_s": d.by_s} for d in self.made_late],
            "moved": [{"visit": d.visit, "by_s": d.by_s} for d in self.moved],
        }
        if self.missing:
            shown["missing"] = self.missing
        return shown


@dataclass(frozen=True)
class NotOffered:
    """A crew that cannot take the visit, with the binding rule."""

    crew: str
    code: str
    message: str


@dataclass(frozen=True)
class Offers:
    offers: tuple[Offer, ...]
    not_offered: tuple[NotOffered, ...]

    def to_json(self) -> dict[str, Any]:
        """The two lists as the port writes them."""
        return {
            "offers": [offer.to_json() for offer in self.offers],
            "not_offered": [{"crew": n.crew, "code": n.code, "message": n.message} for n in self.not_offered],
        }


@dataclass(frozen=True)
class Standing:
    """A running day, ready to be asked again and again; make it once with ``standing_of`` and keep it warm."""

    frame: Frame
    outlooks: tuple[Outlook, ...]

    @property
    def routes(self) -> tuple[Timed, ...]:
        """Every crew's route as it stands."""
        return tuple(outlook.route for outlook in self.outlooks)

    def offers(self, visit: str, at_most: int | None = None) -> Offers:
        """
        Every crew ranked for one visit that the day does not hold yet, by added cost, then by the earlier start.

        :param at_most: how many offers to show; crews that could also go are then listed as not offered.
        :raises Refused: if the visit is unknown or already on a route.
        """
        v = self._open_visit(visit)
        spots: list[Spot] = []
        barred: list[tuple[int, Misfit]] = []
        short: list[tuple[Spot, dict[str, int]]] = []
        for crew, outlook in enumerate(self.outlooks):
            missing = self._missing(crew, outlook.route, v)
            spot = best_spot(outlook, v, missing)
            if spot is not None:
                spots.append(spot)
                continue
            got = best_spot(outlook, v, {}) if missing else None
            if got is not None and not any(stocks_with(self.frame, missing)):
                short.append((got, missing))
            elif got is not None:
                barred.append((crew, self._no_way_to_fetch(missing)))
            else:
                barred.append((crew, why_not(outlook, v) or Misfit("begun", v)))
        if spots or not short:
            made = [self._offer(spot, {}) for spot in sorted(spots, key=_rank)]
            barred += [(spot.crew, self._no_way_to_fetch(missing)) for spot, missing in short]
        else:
            # The shortage is all that stands in the way: better to go and know what is missing than not to go.
            made = [self._offer(spot, missing) for spot, missing in sorted(short, key=lambda s: _rank(s[0]))]
        return self._listed(v, made, barred, at_most)

    def _open_visit(self, visit: str) -> int:
        v = self.frame.visit_at.get(visit)
        if v is None:
            raise Refused("visit_unknown", "--visit", f'"{visit}" is not one of the visits of this day')
        for crew, outlook in enumerate(self.outlooks):
            if v in outlook.route.visits:
                who = self.frame.crews[crew].id
                raise Refused("visit_planned", "--visit", f'"{visit}" is already on the route of crew "{who}"')
        return v

    def _missing(self, crew: int, before: Timed, v: int) -> dict[str, int]:
        return shortage(self.frame, crew, v, before.visits[len(self.frame.begun[crew]) :])

    def _no_way_to_fetch(self, missing: dict[str, int]) -> Misfit:
        return Misfit("equipment", what=", ".join(f"{count} {key}" for key, count in missing.items()))

    def _offer(self, spot: Spot, missing: dict[str, int]) -> Offer:
        frame, before = self.frame, self.outlooks[spot.crew].route
        stop = as_route(frame, spot.crew, spot.route, spot.detour).stops[spot.position]
        fetch = None
        if spot.detour is not None:
            arrive_s, leave_s = fetch_times(frame, spot)
            take = self._missing(spot.crew, before, spot.detour.visit)
            fetch = Fetch(frame.problem.places[spot.detour.place].id, take, arrive_s, leave_s)
        was = dict(zip(before.visits, before.starts_s, strict=True))
        late: list[Delay] = []
        moved: list[Delay] = []
        for v, start_s in zip(spot.route.visits, spot.route.starts_s, strict=True):
            visit = frame.visits[v]
            old_s = was.get(v)
            if visit.due_s is not None:
                more_s = max(0, start_s - visit.due_s) - (0 if old_s is None else max(0, old_s - visit.due_s))
                if more_s > 0:
                    late.append(Delay(visit.id, more_s))
            if visit.promised_s is not None and old_s is not None and start_s != old_s:
                moved.append(Delay(visit.id, start_s - old_s))
        return Offer(
            crew=frame.crews[spot.crew].id,
            position=spot.position,
            fetch=fetch,
            arrive_s=stop.arrive_s,
            start_s=stop.start_s,
            added_cost=spot.added_cost,
            added_driving_s=spot.route.driving_s - before.driving_s,
            made_late=tuple(late),
            moved=tuple(moved),
            missing=missing,
        )

    def _listed(self, v: int, made: list[Offer], barred: list[tuple[int, Misfit]], at_most: int | None) -> Offers:
        shown = made if at_most is None else made[:at_most]
        refused = [
            NotOffered(self.frame.crews[crew].id, misfit.code, reason(self.frame, crew, v, misfit))
            for crew, misfit in sorted(barred, key=lambda b: b[0])
        ]
        for rank, offer in enumerate(made[len(shown) :], start=len(shown) + 1):
            message = f'Crew "{offer.crew}" could also go, as number {rank}, adding {offer.added_cost}.'
            refused.append(NotOffered(offer.crew, "at_most", message))
        return Offers(tuple(shown), tuple(refused))


def _rank(spot: Spot) -> tuple[int, int, int]:
    return spot.added_cost, spot.route.starts_s[spot.position], spot.crew


def standing_of(problem: Problem, plan: Plan) -> Standing:
    """The day as it stands: the problem's begun and under-way stops, then what the plan still holds."""
    frame = frame_of(problem)
    routes = draft_of(frame, orders_of(frame, plan)).routes
    return Standing(frame, tuple(outlook_of(frame, crew, route) for crew, route in enumerate(routes)))


def offers(problem: Problem, plan: Plan, visit: str, at_most: int | None = None) -> Offers:
    """As ``Standing.offers``, for a single question."""
    return standing_of(problem, plan).offers(visit, at_most)
