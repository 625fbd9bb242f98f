"""Callers by hour, day of the week and season, with storms on top: drawn whole before anything happens."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from dispatch.planner.problem import Place
from dispatch.rehearsal.sim.facts import DAY_S, Job, Units
from dispatch.rehearsal.sim.streams import stream
from jobs.science.decay import LOG_RATE, RATE_FREEDOM, Z_TENTH, Tuning
from jobs.science.forecast import LONGEST_DAYS

MILES_A_DEGREE = 69.0
DAYS_A_MONTH = 365.25 / 12
LATER_VISITS = 16
PLACES_TRIED = 20


@dataclass(frozen=True)
class Town:
    """Where calls come from; ``spread_mi`` is a standard deviation."""

    name: str
    state: str
    lat: float
    lon: float
    spread_mi: float
    weight: float


@dataclass(frozen=True)
class Variant:
    """One kind of loss with so many wet rooms, sized: its weight within the kind, and what it takes."""

    loss: str
    rooms: int
    weight: float
    need: Units
    usual_days: tuple[float, float, float]
    skills: Mapping[str, tuple[str, ...]]
    """By state."""
    first_s: int
    visit_s: int


@dataclass(frozen=True)
class Event:
    """A storm: calls against an ordinary day, day by day, with losses and hours of its own."""

    name: str
    days: tuple[float, ...]
    losses: Mapping[str, float]
    hours: tuple[float, ...]
    months: frozenset[int]
    a_year: float


@dataclass(frozen=True)
class Timing:
    """How promises are made, and how the time at the door spreads around what is expected (of its log)."""

    urgent_share: float
    morning_s: int
    morning_due_s: int
    first_spread: float
    visit_spread: float


@dataclass(frozen=True)
class Demand:
    calls_a_month: float
    hours: tuple[float, ...]
    months: tuple[float, ...]
    weekdays: tuple[float, ...]
    losses: Mapping[str, float]
    variants: Mapping[str, tuple[Variant, ...]]
    towns: tuple[Town, ...]
    payers: Mapping[str, tuple[float, int]]
    """Weight and seconds until the promised arrival, by payer."""
    timing: Timing
    events: Mapping[str, Event]
    state_at: Callable[[float, float], str] | None = None
    """Which state a point (latitude, longitude) lies in; without it nobody asks."""


@dataclass(frozen=True)
class Storm:
    """An event and the day of the rehearsal on which it begins."""

    event: str
    first_day: int


def draw(demand: Demand, *, seed: int, start: date, days: int, storms: Sequence[Storm] = ()) -> tuple[Job, ...]:
    """
    All calls of so many days, in the order they come in.

    :param start: the first day, whose season and day of the week count.
    """
    told = sorted(_times(demand, seed, start, days, storms))
    return tuple(_job(demand, seed, number, at_s, loss) for number, (at_s, loss) in enumerate(told, start=1))


def chance_storms(demand: Demand, *, seed: int, start: date, days: int) -> tuple[Storm, ...]:
    """The storms that a stretch of ordinary days happens to have."""
    found = []
    for name, event in sorted(demand.events.items()):
        a_day = event.a_year / (len(event.months) * DAYS_A_MONTH)
        luck = stream(seed, f"storm {name}").random(days)
        for day in range(days):
            if (start + timedelta(days=day)).month in event.months and luck[day] < a_day:
                found.append(Storm(name, day))
                break
    return tuple(found)


def _times(demand: Demand, seed: int, start: date, days: int, storms: Sequence[Storm]) -> Iterator[tuple[int, str]]:
    for day in range(days):
        on = start + timedelta(days=day)
        expected = demand.calls_a_month / DAYS_A_MONTH * _against_mean(demand.months, on.month - 1)
        expected *= _against_mean(demand.weekdays, on.weekday())
        yield from _of_day(seed, f"ordinary {day}", day, expected, demand.hours, demand.losses)
        for storm in storms:
            event = demand.events[storm.event]
            since = day - storm.first_day
            if 0 <= since < len(event.days):
                more = expected * max(0.0, event.days[since] - 1)
                yield from _of_day(seed, f"{event.name} {day}", day, more, event.hours, event.losses)


def _of_day(
    seed: int, what: str, day: int, expected: float, hours: Sequence[float], losses: Mapping[str, float]
) -> Iterator[tuple[int, str]]:
    chance = stream(seed, f"calls {what}")
    names = sorted(losses)
    shares = _shares([losses[name] for name in names])
    for _ in range(chance.poisson(expected)):
        hour = int(chance.choice(24, p=_shares(hours)))
        second = int(chance.integers(3600))
        yield day * DAY_S + hour * 3600 + second, names[int(chance.choice(len(names), p=shares))]


def _job(demand: Demand, seed: int, number: int, called_s: int, loss: str) -> Job:
    variants = demand.variants[loss]
    size = stream(seed, "size", number)
    variant = variants[int(size.choice(len(variants), p=_shares([one.weight for one in variants])))]
    town, place = _place(demand, seed, number)
    timing = demand.timing
    urgent, payer = _promise(demand, seed, number)
    payer_s = demand.payers[payer][1]
    opens_s = called_s if urgent else _morning_after(called_s, timing.morning_s)
    doors = stream(seed, "doors", number)
    first = math.exp(doors.normal(0, timing.first_spread))
    later = np.exp(doors.normal(0, timing.visit_spread, LATER_VISITS))
    return Job(
        number=number,
        called_s=called_s,
        place=place,
        due_s=called_s + payer_s if urgent else opens_s - timing.morning_s + timing.morning_due_s,
        first_s=round(variant.first_s * first),
        expected_s=variant.first_s,
        not_before_s=opens_s,
        state=town.state,
        skills=variant.skills[town.state],
        need=variant.need,
        dry_days=drying_days(variant.usual_days, seed, number),
        visits_s=tuple(round(variant.visit_s * factor) for factor in later),
        urgent=urgent,
        loss=loss,
        town=town.name,
        payer=payer,
        rooms=variant.rooms,
    )


def drying_days(usual_days: tuple[float, float, float], seed: int, number: int) -> float:
    """
    How long a job really dries: from the distribution that the forecast starts from before there are readings.

    The log of the rate has a Student's t around the usual one, as wide as low and high lie apart, and what is still
    going to change on the job spreads the days; both as ``jobs.science.decay`` has it.
    """
    chance = stream(seed, "drying", number)
    low, likely, high = usual_days
    spread = max(math.log(high / low) / (2 * Z_TENTH), 0.2)
    log_rate = float(np.clip(spread * chance.standard_t(RATE_FREEDOM), LOG_RATE[0], LOG_RATE[-1]))
    changes = chance.normal(0, Tuning().future_spread)
    return min(LONGEST_DAYS, likely * math.exp(changes - log_rate))


def _place(demand: Demand, seed: int, number: int) -> tuple[Town, Place]:
    chance = stream(seed, "place", number)
    town = demand.towns[int(chance.choice(len(demand.towns), p=_shares([town.weight for town in demand.towns])))]
    for north, east in chance.normal(0, town.spread_mi / MILES_A_DEGREE, (PLACES_TRIED, 2)):
        lat = round(town.lat + float(north), 5)
        lon = round(town.lon + float(east) / math.cos(math.radians(town.lat)), 5)
        # A town by a river that is the state line ends there.
        if demand.state_at is None or demand.state_at(lat, lon) == town.state:
            return town, Place(id=f"job {number}", lat=lat, lon=lon)
    return town, Place(id=f"job {number}", lat=town.lat, lon=town.lon)


def _promise(demand: Demand, seed: int, number: int) -> tuple[bool, str]:
    chance = stream(seed, "promise", number)
    names = sorted(demand.payers)
    payer = names[int(chance.choice(len(names), p=_shares([demand.payers[name][0] for name in names])))]
    return bool(chance.random() < demand.timing.urgent_share), payer


def _morning_after(called_s: int, morning_s: int) -> int:
    """The next opening hour that is at least two hours away."""
    day = called_s // DAY_S
    opens_s = day * DAY_S + morning_s
    return opens_s if opens_s >= called_s + 2 * 3600 else opens_s + DAY_S


def _against_mean(weights: Sequence[float], at: int) -> float:
    return weights[at] * len(weights) / sum(weights)


def _shares(weights: Sequence[float]) -> list[float]:
    whole = sum(weights)
    return [weight / whole for weight in weights]
