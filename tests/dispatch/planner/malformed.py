"""Problems nobody could plan: sixty-odd made by hand, and any number by damaging a sound one in one place."""

from __future__ import annotations

import copy
import json
from random import Random
from typing import Any

from dispatch.planner.reading import path_of
from tests.dispatch.planner.days import random_day

# Objects whose keys are the caller's own: taking one out or adding one is no error there.
FREE_KEYS = frozenset({"have", "capacity", "deliver", "collect", "prefer", "aboard"})
HUGE = 10**30


def sound() -> dict[str, Any]:
    """A sound running day with every optional part present somewhere."""
    problem = random_day(Random(8), 5, 2, running=True).to_json()
    visits, crews = problem["visits"], problem["crews"]
    crews[0] |= {
        "begun": [{"visit": "v0", "start": 26_000, "leave": 27_000}],
        "under_way": {"to": "v1", "left": 27_100},
        "break": {"seconds": 1_800, "from": 37_800, "until": 52_200},
        "break_taken": [28_000, 29_000],
        "aboard": {"mover": 2},
        "capacity": {"mover": 9},
    }
    crews[1] |= {"begun": [], "under_way": None, "break": None, "break_taken": None}
    visits[2] |= {"window": [30_000, 40_000], "only": ["c0"], "prefer": {"c1": 3, "*": 5}, "deliver": {"mover": 1}}
    n = len(problem["places"])
    problem["travel"] = {"seconds": [[60] * n for _ in range(n)], "meters": [[900] * n for _ in range(n)]}
    return problem


def _at(problem: Any, path: str) -> tuple[Any, Any]:
    steps = [int(s) if s.isdigit() else s for s in path.split("/")]
    for step in steps[:-1]:
        problem = problem[step]
    return problem, steps[-1]


# (path, value put there, where the refusal must point)
PUT: list[tuple[str, Any, str]] = [
    ("format", 2, "format"),
    ("format", "1", "format"),
    ("format", True, "format"),
    ("now", None, "now"),
    ("now", "0", "now"),
    ("now", 1.0, "now"),
    ("now", True, "now"),
    ("now", HUGE, "now"),
    ("now", float("nan"), "now"),
    ("now", 27_050, "crews[0].under_way.left"),
    ("now", 25_000, "crews[0].begun[0].start"),
    ("places", None, "places"),
    ("places", {}, "places"),
    ("places/0/lat", 91, "places[0].lat"),
    ("places/0/lon", -181, "places[0].lon"),
    ("places/0/lat", float("inf"), "places[0].lat"),
    ("places/0/lat", "45", "places[0].lat"),
    ("places/0/id", "", "places[0].id"),
    ("places/0/id", " ", "places[0].id"),
    ("places/1/id", "p0", "places[1].id"),
    ("stock/0/place", "nowhere", "stock[0].place"),
    ("stock/1/place", "p0", "stock[1].place"),
    ("stock/0/have/mover", -1, "stock[0].have.mover"),
    ("stock/0/load_s", -1, "stock[0].load_s"),
    ("travel/seconds", [], "travel.seconds"),
    ("travel/meters/2", [1], "travel.meters[2]"),
    ("travel/seconds/1/1", -1, "travel.seconds[1][1]"),
    ("travel/seconds/1/1", None, "travel.seconds[1][1]"),
    ("prices/per_meter", -1, "prices.per_meter"),
    ("prices/per_driving_second", 0.5, "prices.per_driving_second"),
    ("prices/per_overtime_second", 10**10, "prices.per_overtime_second"),
    ("crews/1/id", "c0", "crews[1].id"),
    ("crews/0/start", "nowhere", "crews[0].start"),
    ("crews/0/start", None, "crews[0].start"),
    ("crews/0/end", "nowhere", "crews[0].end"),
    ("crews/0/until", 20_000, "crews[0].until"),
    ("crews/0/at_latest", 20_000, "crews[0].at_latest"),
    ("crews/0/skills", "mould", "crews[0].skills"),
    ("crews/0/skills", [1], "crews[0].skills[0]"),
    ("crews/0/states", {"OR": 1}, "crews[0].states"),
    ("crews/0/capacity/mover", 1.5, "crews[0].capacity.mover"),
    ("crews/0/capacity", [], "crews[0].capacity"),
    ("crews/0/break/until", 0, "crews[0].break.until"),
    ("crews/0/break/seconds", 0, "crews[0].break.seconds"),
    ("crews/0/break_taken", [29_000], "crews[0].break_taken[1]"),
    ("crews/0/break_taken", [29_000, 28_000], "crews[0].break_taken"),
    ("crews/0/break_taken", [30_001, 31_000], "crews[0].break_taken"),
    ("crews/0/under_way/to", "v0", "crews[0].under_way.to"),
    ("crews/0/under_way/to", "v99", "crews[0].under_way.to"),
    ("crews/0/under_way/left", 26_500, "crews[0].under_way.left"),
    ("crews/0/begun/0/visit", "v99", "crews[0].begun[0].visit"),
    ("crews/0/begun/0/leave", 25_999, "crews[0].begun[0].leave"),
    ("crews/0/begun/0/start", 30_001, "crews[0].begun[0].leave"),
    ("crews/1/begun", [{"visit": "v0", "start": 26_000, "leave": 27_000}], "crews[1].begun[0].visit"),
    ("crews/0/driving_limit_s", -1, "crews[0].driving_limit_s"),
    ("crews/0/fixed", 10**16, "crews[0].fixed"),
    ("visits/1/id", "v0", "visits[1].id"),
    ("visits/1/place", "nowhere", "visits[1].place"),
    ("visits/1/service_s", -1, "visits[1].service_s"),
    ("visits/2/window", [40_000, 30_000], "visits[2].window"),
    ("visits/2/window", [1, 2, 3], "visits[2].window"),
    ("visits/2/only", ["c9"], "visits[2].only[0]"),
    ("visits/2/prefer/c9", 1, "visits[2].prefer.c9"),
    ("visits/2/prefer/*", -1, "visits[2].prefer.*"),
    ("visits/2/deliver/mover", "1", "visits[2].deliver.mover"),
    ("visits/2/skip", -5, "visits[2].skip"),
    ("visits/2/per_late_second", -5, "visits[2].per_late_second"),
    ("visits/2/color", "red", "visits[2].color"),
    ("colour", "red", "colour"),
    ("crews/0/from_s", 25_200, "crews[0].from_s"),
]

TAKEN_OUT = [
    "format",
    "now",
    "stock",
    "travel",
    "crews/0/break",
    "crews/0/begun/0/leave",
    "visits/0/skip",
    "prices/per_meter",
]

RAW: list[tuple[bytes, str]] = [
    (b"", "line 1, column 1"),
    (b"{", "line 1, column 2"),
    (b"null", "document"),
    (b"[]", "document"),
    (b'"problem"', "document"),
    (b"\xff\xfe{}", "byte 0"),
    (b"[" * 200_000, "document"),
    (b'{"a":' * 100_000, "document"),
    (b'{"format": 1, "format": 1}', "format"),
    (b'{"format": 1} {"format": 1}', "line 1, column 15"),
    (b"{'format': 1}", "line 1, column 2"),
]


def by_hand() -> list[tuple[bytes, str]]:
    """Every hand-made problem as (text, where the refusal must point)."""
    made = list(RAW)
    for path, value, where in PUT:
        problem = sound()
        holder, key = _at(problem, path)
        holder[key] = value
        made.append((json.dumps(problem).encode(), where))
    for path in TAKEN_OUT:
        problem = sound()
        holder, key = _at(problem, path)
        del holder[key]
        made.append(
            (json.dumps(problem).encode(), path_of(tuple(int(s) if s.isdigit() else s for s in path.split("/"))))
        )
    twice = json.dumps(sound()).replace('"service_s":', '"service_s": 1, "service_s":', 1)
    made.append((twice.encode(), "visits[0].service_s"))
    return made


def damaged(rng: Random) -> tuple[bytes, str]:
    """A sound problem with one key gone, one too many, or one value of the wrong kind."""
    problem = copy.deepcopy(sound())
    holder, loc = _somewhere(rng, problem)
    key = loc[-1]
    free = any(step in FREE_KEYS for step in loc[:-1])
    kind = rng.choice(("gone", "more", "wrong", "wrong", "wrong"))
    if kind == "gone" and isinstance(holder, dict) and not free:
        del holder[key]
    elif kind == "more" and isinstance(holder, dict) and not free:
        loc = (*loc[:-1], "unheard_of")
        holder["unheard_of"] = rng.choice([None, 1, "x", [], {}])
    else:
        holder[key] = rng.choice(_wrong(holder[key]))
    return json.dumps(problem).encode(), path_of(loc)


def _somewhere(rng: Random, problem: Any) -> tuple[Any, tuple[Any, ...]]:
    """A random place in the tree, as its container and its path."""
    holder: Any = problem
    key = rng.choice(list(problem))
    loc: tuple[Any, ...] = (key,)
    while isinstance(holder[key], (dict, list)) and holder[key] and rng.random() < 0.9:
        holder = holder[key]
        key = rng.choice(list(holder)) if isinstance(holder, dict) else rng.randrange(len(holder))
        loc = (*loc, key)
    return holder, loc


def _wrong(value: Any) -> list[Any]:
    if value is None:
        return [True, 1.5, float("nan")]
    if isinstance(value, str):
        return [5, True, ["x"], {"x": 1}]
    if isinstance(value, (int, float)):
        return ["12", True, [1], {"x": 1}, HUGE, -HUGE, float("nan"), float("inf")]
    return [True, 7, "x", float("nan"), {"x": True} if isinstance(value, list) else ["x"]]
