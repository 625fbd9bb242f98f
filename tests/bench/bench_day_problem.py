"""
How long a day's problem takes from the tables: 60 jobs and 40 crews, medians in milliseconds; the limit is 150 ms.

    DJANGO_SETTINGS_MODULE=config.settings python -m tests.bench.bench_day_problem [rounds]

Works on a database of its own, which is thrown away. The number of queries is pinned in the planning tests.
"""

from __future__ import annotations

import statistics
import sys
import time
from datetime import timedelta

import django

LIMIT_MS = 150
JOBS, CREWS = 60, 40


def main(rounds: int) -> None:
    django.setup()

    # Only after the set-up may the tables be imported.
    from django.db import connection

    old_name = connection.settings_dict["NAME"]
    connection.creation.create_test_db(verbosity=0)
    try:
        measure(rounds)
    finally:
        connection.creation.destroy_test_db(old_name, verbosity=0)


def measure(rounds: int) -> None:
    from dispatch import planning
    from equipment.models import Vehicle
    from jobs.models import Job
    from tests.dispatch import night as nights

    night = nights.night()
    day = nights.TONIGHT + timedelta(days=1)
    starts_at = nights.NIGHT + timedelta(hours=8)
    for number in range(CREWS):
        van = Vehicle.objects.get(pk=night.cast.van.pk)
        van.pk, van.code, van.name = None, f"B{number}", f"Bench van {number}"
        van.save()
        hours = {"starts_at": starts_at, "ends_at": starts_at + timedelta(hours=9)}
        lead = nights.person(night.cast, f"Lead {number}")
        at_latest = starts_at + timedelta(hours=12)
        nights.crew(night.cast, f"B{number}", van, lead, service_day=day, at_latest=at_latest, **hours)
    for number in range(JOBS):
        job = night.cast.job(stage=Job.Stage.DRYING, lat=45.3 + number / 100)
        night.visit(job, due_on=day)
    took = []
    for _ in range(rounds + 1):
        start = time.perf_counter()
        shot = planning.problem_of(area=night.cast.area, day=day, now=nights.NIGHT)
        took.append((time.perf_counter() - start) * 1000)
    assert (len(shot.problem["visits"]), len(shot.problem["crews"])) == (JOBS, CREWS)
    middle = statistics.median(took[1:])
    print(f"{JOBS} jobs, {CREWS} crews: median {middle:.1f} ms, longest {max(took[1:]):.1f} ms, first {took[0]:.1f} ms")
    print(f"limit {LIMIT_MS} ms: {'ok' if middle <= LIMIT_MS else 'OVER'}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 20)
