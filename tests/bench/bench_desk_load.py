"""
How long the server works on the board and on a call's offers with 200 open jobs, 60 waiting calls and 40 crews.

    EBBLINE_DATA=FOLDER python -m tests.bench.bench_desk_load

FOLDER is empty: the tables, the night and its size are made here, on SQLite or on what DATABASE_URL names. Each page is
asked for in this process, without network or browser: 3 times to warm up, then 20 times. Both should take under 200 ms
of the server's time (two cores) and a number of queries that does not grow with jobs, calls or crews; what takes longer
is marked.
"""

import os
import time
from typing import Any

import django

RUNS = 20
GOAL_MS = 200


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    django.setup()
    from django.core.management import call_command
    from django.test.utils import override_settings

    call_command("migrate", verbosity=0)
    with override_settings(ALLOWED_HOSTS=["testserver"]):
        _measure()


def _measure() -> None:
    from tests.dispatch import busy_night, night

    made = night.night()
    small = _asked(made, busy_night.one_more_call(made))
    busy_night.fill(made, jobs=200, calls=60, crews=40)
    big = _asked(made, busy_night.one_more_call(made))
    print(f"{'':<20} {'median ms':>9} {'processor':>9} {'queries':>8}  (small night: queries)")
    for what, (wall_ms, cpu_ms, queries) in big.items():
        late = f"  above {GOAL_MS} ms" if cpu_ms > GOAL_MS else ""
        print(f"{what:<20} {wall_ms:>9.0f} {cpu_ms:>9.0f} {queries:>8}  ({small[what][2]}){late}")


def _asked(made: Any, call_id: int) -> dict[str, tuple[float, float, int]]:
    from django.db import connection
    from django.test import Client
    from django.test.utils import CaptureQueriesContext

    client = Client()
    client.force_login(made.dispatcher, backend="django.contrib.auth.backends.ModelBackend")
    found = {}
    for what, path in (("the board", "/desk"), ("the offers", f"/desk/calls/{call_id}/offers")):
        for _ in range(3):
            assert client.get(path).status_code == 200
        with CaptureQueriesContext(connection) as queries:
            client.get(path)
            asked = len(queries)
        spent = []
        for _ in range(RUNS):
            wall, cpu = time.perf_counter(), time.process_time()
            client.get(path)
            spent.append((1000 * (time.perf_counter() - wall), 1000 * (time.process_time() - cpu)))
        middle = len(spent) // 2
        found[what] = (sorted(s[0] for s in spent)[middle], sorted(s[1] for s in spent)[middle], asked)
    return found


if __name__ == "__main__":
    main()
