"""
How long the server works on each page of the demo company, and with how many queries.

    EBBLINE_DATA=FOLDER python -m tests.bench.bench_pages

FOLDER holds the demo company: `manage.py demo --no-serve`, then `manage.py runner --once` for the day's routes. Each
page is asked for in this process, without network or browser: 3 times to warm up, then 30 times. A page should answer
within 150 ms, the estimate within 100 ms (two cores); a median above that is marked.
"""

import os
import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass
from uuid import uuid4

import django

RUNS = 30
PAGE_MS, ESTIMATE_MS = 150, 100
LINES = (
    "kitchen 13x15 hardwood floor 150 walls 70 ceiling 110 wood 150",
    "hall 4x18",
    "bath 8x10 walls",
    "living room 16x22 floor 200 walls 90",
)


@dataclass(frozen=True)
class Measured:
    """One page's figures over all runs."""

    what: str
    median_ms: float
    p95_ms: float
    queries: int
    kbytes: float
    limit_ms: int


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    django.setup()
    rows = [measure(what, ask, limit) for what, ask, limit in pages()]
    print(f"{'':<34} {'median ms':>9} {'p95 ms':>7} {'queries':>8} {'kB':>6}")
    for row in rows:
        late = f"  above {row.limit_ms} ms" if row.median_ms > row.limit_ms else ""
        print(
            f"{row.what:<34} {row.median_ms:>9.0f} {row.p95_ms:>7.0f} {row.queries:>8} {row.kbytes:>6.0f}{late}",
        )


def pages() -> list[tuple[str, Callable[[], bytes], int]]:
    """Every page with what asks for it; the call that the last two stand on is taken and answered first."""
    from django.test import Client

    from equipment.models import Warehouse

    desk, keeper = _signed_in("dispatcher"), _signed_in("warehouse")
    lead, stop = _lead_with_stops()
    code = Warehouse.objects.order_by("pk").values_list("code", flat=True)[0]
    call_id = _call(desk)

    def get(client: Client, path: str) -> Callable[[], bytes]:
        def ask() -> bytes:
            answer = client.get(path, HTTP_HOST="localhost")
            assert answer.status_code == 200, (path, answer.status_code)
            return bytes(answer.content)

        return ask

    found = [("/desk", get(desk, "/desk"), PAGE_MS), ("/crew", get(lead, "/crew"), PAGE_MS)]
    found.append((f"/crew/stops/{stop}", get(lead, f"/crew/stops/{stop}"), PAGE_MS))
    found += [
        (f"/warehouse/{code}{room}", get(keeper, f"/warehouse/{code}{room}"), PAGE_MS)
        for room in ("", "/returns", "/cleaning", "/left-behind")
    ]
    found += [
        ("/desk/map/features", get(desk, "/desk/map/features"), PAGE_MS),
        ("the call page", get(desk, f"/desk/calls/{call_id}"), PAGE_MS),
        ("the estimate beside a saved field", _saving(desk, call_id), ESTIMATE_MS),
        ("the offers", get(desk, f"/desk/calls/{call_id}/offers"), PAGE_MS),
    ]
    return found


def measure(what: str, ask: Callable[[], bytes], limit_ms: int) -> Measured:
    """Times are taken without counting queries, since counting them costs time of its own."""
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    for _ in range(3):
        ask()
    with CaptureQueriesContext(connection) as queries:
        content = ask()
        asked = len(queries)
    spent = []
    for _ in range(RUNS):
        start = time.perf_counter()
        ask()
        spent.append(1000 * (time.perf_counter() - start))
    p95 = statistics.quantiles(spent, n=20)[-1]
    return Measured(what, statistics.median(spent), p95, asked, len(content) / 1000, limit_ms)


def _signed_in(role: str):  # type: ignore[no-untyped-def]
    from django.contrib.auth.models import User
    from django.test import Client

    client = Client()
    client.force_login(User.objects.filter(memberships__role=role).order_by("pk")[0])
    return client


def _lead_with_stops():  # type: ignore[no-untyped-def]
    """Of the leads whose day is now or next, the one with the most stops on it; the client, and the first stop."""
    from django.test import Client
    from django.utils import timezone

    from dispatch.crew.pages import day_page
    from dispatch.models import Crew

    now = timezone.now()
    leads = {crew.lead.user for crew in Crew.objects.filter(at_latest__gt=now).select_related("lead__user")}
    days = {lead: day_page(user=lead, now=now) for lead in sorted(leads, key=lambda lead: lead.pk)}
    lead, day = max(days.items(), key=lambda pair: len(pair[1].stops) if pair[1] else 0)
    assert day
    assert day.stops, "no crew has a stop: let `manage.py runner --once` work out the day's plan first"
    client = Client()
    client.force_login(lead)
    return client, day.stops[0].visit_id


def _call(desk) -> int:  # type: ignore[no-untyped-def]
    """A call with all that a crew needs and four rooms."""
    from jobs.models import Call

    desk.post("/desk/calls/new", {"key": uuid4(), "callback_number": "360-555-0199"}, HTTP_HOST="localhost")
    call = Call.objects.latest("pk")
    told = {
        "street": "5230 Teasel Field Court",
        "zip_code": "98664",
        "water_source": "supply_line",
        "running": "stopped",
        "power": "on",
        "category": "1",
        "lets_in": "owner",
        "can_sign": "owner",
    }
    told |= {f"room:r{number}:line": line for number, line in enumerate(LINES)}
    for field, value in told.items():
        _save(desk, call.pk, field, value, 0)
    return call.pk


def _save(desk, call_id: int, field: str, value: str, seen: int) -> bytes:  # type: ignore[no-untyped-def]
    answer = desk.post(
        f"/desk/calls/{call_id}/answers",
        {"key": str(uuid4()), "field": field, "value": value, "seen": seen},
        content_type="application/json",
        HTTP_HOST="localhost",
    )
    assert answer.status_code == 200, answer.content
    return bytes(answer.content)


def _saving(desk, call_id: int) -> Callable[[], bytes]:  # type: ignore[no-untyped-def]
    """One room's wet floor typed anew, each time with another figure, so that no answer can be remembered."""
    from jobs import selectors

    turn = [0]

    def ask() -> bytes:
        turn[0] += 1
        seen = selectors.call_facts(call_id).versions.get("room:r1:wet_floor_sqft", 0)
        return _save(desk, call_id, "room:r1:wet_floor_sqft", str(1 + turn[0]), seen)

    return ask


if __name__ == "__main__":
    main()
