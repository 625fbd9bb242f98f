"""Small random days with every key of the port in play, from a seed alone."""

from __future__ import annotations

from random import Random
from typing import Any

from dispatch.planner.problem import Problem, read_problem

HOUR = 3600


def random_day(seed: int, visits: int = 8, crews: int = 3, *, begun: bool = True, promised: bool = True) -> Problem:
    """A day of ``visits`` and ``crews``; odd shapes (asymmetric travel, no break, no way home) come up often."""
    import json

    return read_problem(json.dumps(random_json(seed, visits, crews, begun=begun, promised=promised)))


def random_json(seed: int, visits: int, crews: int, *, begun: bool, promised: bool) -> dict[str, Any]:
    rng = Random(seed)
    places = [{"id": f"p{i}", "lat": 45.5 + rng.random(), "lon": -122.6 - rng.random()} for i in range(visits + 2)]
    day: dict[str, Any] = {
        "format": 1,
        "now": 0,
        "stock": [],
        "places": places,
        "travel": _travel(rng, len(places)),
        "prices": {"per_meter": rng.choice([0, 1]), "per_driving_second": rng.choice([1, 3]), "per_overtime_second": 2},
        "crews": [_crew(rng, i, visits) for i in range(crews)],
        "visits": [_visit(rng, i, crews, promised) for i in range(visits)],
    }
    if begun and visits > crews and rng.random() < 0.5:
        _begin(rng, day)
    return day


def _travel(rng: Random, n: int) -> dict[str, Any]:
    points = [(rng.random(), rng.random()) for _ in range(n)]
    base = [[int(5000 * (abs(a[0] - b[0]) + abs(a[1] - b[1]))) for b in points] for a in points]
    if rng.random() < 0.3:
        base = [[0 if i == j else d + rng.randrange(900) for j, d in enumerate(row)] for i, row in enumerate(base)]
    return {"seconds": base, "meters": [[8 * d + (i % 3) * 10 for i, d in enumerate(row)] for row in base]}


def _crew(rng: Random, i: int, visits: int) -> dict[str, Any]:
    start = rng.choice([7, 7, 8, 12]) * HOUR
    until = start + rng.choice([5, 8, 10]) * HOUR
    lunch_from = start + rng.choice([1, 3, 4]) * HOUR
    return {
        "id": f"c{i}",
        "start": f"p{rng.choice([visits, visits + 1])}",
        "end": rng.choice([None, f"p{visits}", f"p{visits + 1}"]),
        "from": start,
        "until": until,
        "at_latest": until + rng.choice([0, 1, 3]) * HOUR,
        "skills": rng.sample(["a", "b"], rng.choice([1, 2, 2])),
        "states": rng.choice([["OR"], ["OR", "WA"], ["WA", "OR"]]),
        "capacity": {"x": rng.choice([4, 8, 16]), "y": rng.choice([3, 9])},
        "fixed": rng.choice([0, 2000]),
        "break": None
        if rng.random() < 0.3
        else {"seconds": 1800, "from": lunch_from, "until": lunch_from + rng.choice([1, 2, 4]) * HOUR},
        "driving_limit_s": rng.choice([None, None, 4 * HOUR]),
        "aboard": None,
        "break_taken": None,
        "under_way": None,
        "begun": [],
    }


def _visit(rng: Random, i: int, crews: int, promised: bool) -> dict[str, Any]:
    opens = rng.randrange(7 * HOUR, 16 * HOUR, 60)
    has_promise = promised and rng.random() < 0.4
    return {
        "id": f"v{i}",
        "place": f"p{i}",
        "service_s": rng.randrange(600, 4200, 60),
        "window": None if rng.random() < 0.4 else [opens, opens + rng.choice([1, 2, 4]) * HOUR],
        "due": opens if rng.random() < 0.2 else None,
        "per_late_second": rng.choice([1, 5]),
        "skills": [rng.choice("ab")] if rng.random() < 0.3 else [],
        "state": "WA" if rng.random() < 0.2 else None,
        "deliver": {"x": rng.randrange(6)} if rng.random() < 0.5 else {},
        "collect": {rng.choice("xy"): rng.randrange(4)} if rng.random() < 0.4 else {},
        "skip": rng.choice([None, 3000, 12_000, 50_000]),
        "only": [f"c{rng.randrange(crews)}"] if rng.random() < 0.1 else None,
        "prefer": {f"c{rng.randrange(crews)}": 0, "*": 400} if rng.random() < 0.3 else {},
        "promised": rng.randrange(7 * HOUR, 16 * HOUR, 60) if has_promise else None,
        "per_moved_second": rng.choice([1, 4]) if has_promise else 0,
    }


def _begin(rng: Random, day: dict[str, Any]) -> None:
    """Let the first crew have begun a visit or be on its way to one, and the last have had its break."""
    crew, seconds = day["crews"][0], day["travel"]["seconds"]
    base = int(crew["start"][1:])
    start = crew["from"] + seconds[base][0] + rng.randrange(0, 1800)
    leave = start + day["visits"][0]["service_s"]
    day["now"] = leave + rng.randrange(-600, 900)
    if rng.random() < 0.7:
        crew["begun"] = [{"visit": "v0", "start": start, "leave": leave}]
        crew["under_way"] = {"to": "v1", "left": leave} if day["now"] > leave and rng.random() < 0.5 else None
    else:
        crew["under_way"] = {"to": "v0", "left": crew["from"]}
    if crew["begun"] and day["now"] < start:
        day["now"] = start
    other = day["crews"][-1]
    if other is not crew and other["break"] is not None and other["from"] <= day["now"]:
        taken = min(day["now"], other["break"]["from"])
        other["break_taken"] = [taken, taken + 1800]
