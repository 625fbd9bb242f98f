"""
One racing process. It reads a plan, says "ready", waits for the word, runs its steps and says what came of each
(`done`, or the refusal's code); then it reads the next plan.

Plan: {"steps": [{"do": verb, "who": role, "key": uuid or null, "with": {...}}, ...], "stale": false}. `stale` shows
what a lock is for: the look at what is free is taken before the word is given, and is believed afterwards.
"""

import json
import sys
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID, uuid4

import django

NIGHT = datetime(2026, 1, 16, 6, 47, tzinfo=UTC)


def main() -> None:
    django.setup()
    from django.contrib.auth.models import User
    from django.db import connection

    from equipment.reservations import shortage

    honest = shortage.find
    for line in sys.stdin:
        plan = json.loads(line)
        actors = {step["who"]: User.objects.get(username=step["who"]) for step in plan["steps"]}
        shortage.find = look_too_early(plan["steps"]) if plan.get("stale") else honest
        print("ready", flush=True)
        sys.stdin.readline()
        came = [run(step, actors[step["who"]]) for step in plan["steps"]]
        # An open connection would keep the test database from being emptied or dropped.
        connection.close()
        print(json.dumps(came), flush=True)


def run(step: dict[str, Any], actor: Any) -> str:
    from equipment import custody, reservations
    from jobs.refusals import Busy, Refusal

    verbs = {
        "hold": reservations.hold,
        "extend_hold": reservations.extend_hold,
        "expire_hold": reservations.expire_hold,
        "release_hold": reservations.release_hold,
        "scan_out": custody.scan_out,
        "place_units": custody.place_units,
    }
    key = UUID(step["key"]) if step.get("key") else uuid4()
    now = NIGHT + timedelta(minutes=step.get("minutes", 0))
    try:
        answer = verbs[step["do"]](key=key, actor=actor, now=now, **arguments(step["with"]))
    except Busy:
        # As every client does: nothing was decided, so the same is sent again with the same key.
        return run({**step, "key": str(key)}, actor)
    except Refusal as refusal:
        return refusal.code
    return "done" if answer is not False else "not yet"


def arguments(given: dict[str, Any]) -> dict[str, Any]:
    """Hours become times and periods; lists become tuples."""
    found: dict[str, Any] = {}
    for name, value in given.items():
        if name in {"starts_at", "ends_at"}:
            value = NIGHT + timedelta(hours=value)
        elif name == "keep_for":
            value = timedelta(hours=value)
        elif name == "wanted":
            value = tuple((pool, units) for pool, units in value)
        elif name == "numbers":
            value = tuple(value)
        found[name] = value
    return found


def look_too_early(steps: list[dict[str, Any]]) -> Any:
    """Look at what is free now, outside of any transaction; answers what will be believed instead of a second look."""
    from equipment.models import Pool
    from equipment.reservations import shortage

    seen = {}
    for step in steps:
        given = arguments(step["with"])
        wanted = dict(given["wanted"])
        pools = {pool.pk: pool for pool in Pool.objects.select_related("model", "place__vehicle").filter(pk__in=wanted)}
        period = {"starts_at": given["starts_at"], "ends_at": given["ends_at"], "now": NIGHT}
        seen[tuple(sorted(wanted.items()))] = shortage.find(pools, wanted, **period)
    return lambda pools, wanted, **period: seen[tuple(sorted(wanted.items()))]


if __name__ == "__main__":
    main()
