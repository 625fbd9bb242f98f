"""
Generated days for measuring: routes of crews and visits as a drying company has them, on invented points.

Shapes: 60, 120, 200 and 400 visits with 14, 26, 40 and 76 crews; four shifts, five skills, two states, four kinds of
load delivered and collected, 5 % emergencies with a due time, 12 % optional visits, arrival windows on 60 %, a lunch.
Seeds below 100 are for tuning, seeds from 100 on for the table: never tune on the latter.
"""

from __future__ import annotations

import argparse
import json
from math import asin, cos, radians, sin, sqrt
from random import Random
from typing import Any

CREWS = {60: 14, 120: 26, 200: 40, 400: 76}
HOUR = 3600
SKILLS = ("structure", "contents", "mould", "sewage", "hardwood")
KINDS = ("air_mover", "dehumidifier", "air_scrubber", "volume_cuft")
# Hundredths of a cent: 70 c a mile, $36 an hour of driving and of overtime, $50 a crew.
PER_METER, PER_SECOND, FIXED = 4, 100, 500_000


def day(visits: int, seed: int, crews: int | None = None) -> dict[str, Any]:
    """A problem in the port's form; the same arguments give the same day."""
    rng = Random(1_000_003 * visits + seed)
    depots = [{"id": f"warehouse {i}", **_point(rng, i)} for i in range(3 if visits < 200 else 4)]
    sites = [{"id": f"site {i}", **_point(rng, rng.randrange(len(depots)))} for i in range(visits)]
    places = depots + sites
    team = [_crew(rng, i, depots) for i in range(crews or CREWS[visits])]
    return {
        "format": 1,
        "now": 0,
        "stock": [],
        "places": places,
        "travel": _travel(places),
        "prices": {"per_meter": PER_METER, "per_driving_second": PER_SECOND, "per_overtime_second": PER_SECOND},
        "crews": team,
        "visits": [_visit(rng, i, team) for i in range(visits)],
    }


def _point(rng: Random, near: int) -> dict[str, float]:
    """Around one of four towns along a river, or anywhere in the valley."""
    towns = ((45.52, -122.68), (45.64, -122.60), (45.40, -122.57), (45.53, -122.95))
    lat, lon = towns[near % 4]
    spread = 0.06 if rng.random() < 0.7 else 0.22
    return {"lat": round(rng.gauss(lat, spread), 5), "lon": round(rng.gauss(lon, spread * 1.4), 5)}


def _travel(places: list[dict[str, Any]]) -> dict[str, Any]:
    meters = [[round(1.3 * _apart_m(a, b)) for b in places] for a in places]
    return {"seconds": [[_drive_s(m) for m in row] for row in meters], "meters": meters}


def _apart_m(a: dict[str, Any], b: dict[str, Any]) -> float:
    la, lb = radians(a["lat"]), radians(b["lat"])
    h = sin((lb - la) / 2) ** 2 + cos(la) * cos(lb) * sin(radians(b["lon"] - a["lon"]) / 2) ** 2
    return 2 * 6_371_000 * asin(sqrt(h))


def _drive_s(meters: float) -> int:
    """Concave in distance, so that no detour is ever quicker: 22 mph for four miles, then 36, 50 and 61."""
    seconds, left = 0.0, meters / 1609.344
    for miles, mph in ((4, 22), (8, 36), (12, 50), (1e9, 61)):
        part = min(left, miles)
        seconds += part / mph * HOUR
        left -= part
    return round(seconds)


def _crew(rng: Random, i: int, depots: list[dict[str, Any]]) -> dict[str, Any]:
    start, end, over = rng.choices(((7, 17, 2), (6, 14, 2), (14, 22, 2), (22, 30, 1)), (68, 10, 12, 10))[0]
    depot = rng.choice(depots)["id"]
    lunch = (start + 3.5, start + 7.5) if start != 7 else (10.5, 14.5)
    return {
        "id": f"crew {i}",
        "start": depot,
        "end": depot,
        "from": start * HOUR,
        "until": end * HOUR,
        "at_latest": (end + over) * HOUR,
        "skills": sorted({"structure", *rng.sample(SKILLS, rng.choice([1, 2, 3]))}),
        "states": rng.choices((["OR"], ["WA"], ["OR", "WA"]), (35, 20, 45))[0],
        "capacity": {
            "air_mover": rng.choice([20, 30, 40]),
            "dehumidifier": rng.choice([6, 8, 12]),
            "air_scrubber": rng.choice([2, 4, 6]),
            "volume_cuft": rng.choice([250, 400, 600]),
        },
        "fixed": FIXED,
        "break": {"seconds": 1800, "from": int(lunch[0] * HOUR), "until": int(lunch[1] * HOUR)},
        "driving_limit_s": None,
        "aboard": None,
        "break_taken": None,
        "under_way": None,
        "begun": [],
    }


def _gear(rng: Random) -> dict[str, int]:
    movers, dryers = rng.randint(1, 10), rng.randint(0, 3)
    scrubbers = int(rng.random() < 0.2)
    load = {"air_mover": movers, "dehumidifier": dryers, "air_scrubber": scrubbers}
    return {**load, "volume_cuft": 4 * movers + 12 * dryers + 8 * scrubbers}


def _visit(rng: Random, i: int, team: list[dict[str, Any]]) -> dict[str, Any]:
    emergency = rng.random() < 0.05
    skills = ["structure"] if rng.random() < 0.6 else rng.sample(SKILLS, rng.choice([1, 1, 2]))
    state = rng.choices(("OR", "WA"), (70, 30))[0]
    # At least two able crews where the crews permit: first with fewer skills, then in the other state.
    for asked, there in ((skills, state), (skills[:1], state), ([], state), ([], "OR" if state == "WA" else "WA")):
        skills, state = asked, there
        if sum(set(skills) <= set(c["skills"]) and state in c["states"] for c in team) >= 2:
            break
    opens = rng.randrange(7 * HOUR, 15 * HOUR, 900)
    windowed = not emergency and rng.random() < 0.6
    window = [opens, opens + rng.choice([2, 3]) * HOUR] if windowed else [7 * HOUR, 18 * HOUR]
    called = rng.randrange(7 * HOUR, 19 * HOUR, 60)
    what = rng.random()
    optional = not emergency and rng.random() < 0.12
    return {
        "id": f"visit {i}",
        "place": f"site {i}",
        "service_s": 60 * (rng.randint(120, 240) if emergency else rng.randint(30, 50)),
        "window": [called, called + 6 * HOUR] if emergency else window,
        "due": called + HOUR if emergency else None,
        "per_late_second": 1_000 if emergency else 0,
        "skills": skills,
        "state": state,
        "deliver": _gear(rng) if emergency or what < 0.3 else {},
        "collect": _gear(rng) if not emergency and what > 0.6 else {},
        "skip": rng.randint(40, 150) * 10_000 if optional else 100_000_000 if emergency else 20_000_000,
        "only": None,
        "prefer": {},
        "promised": None,
        "per_moved_second": 0,
    }


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description="Write one generated day as a problem file.")
    parser.add_argument("visits", type=int)
    parser.add_argument("seed", type=int)
    given = parser.parse_args()
    print(json.dumps(day(given.visits, given.seed)))
