"""
How long a month of the demo company takes to rehearse, by rule, and how many calls and visits it has.

    python -m tests.bench.bench_rehearsal

The goal is 10 minutes on two cores for 200 calls and 1,500 visits. Works in a new empty folder; loading the company is
told apart. Processor seconds beside the clock's, because the wall clock of a busy machine says nothing.
"""

from __future__ import annotations

import os
import tempfile
import time
from pathlib import Path

SEED = 1


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        os.environ.update(EBBLINE_DATA=folder, DJANGO_SETTINGS_MODULE="config.settings")
        os.environ.pop("DATABASE_URL", None)
        import django

        django.setup()
        _rehearse()


def _rehearse() -> None:
    from django.conf import settings
    from django.core.management import call_command

    from dispatch.rehearsal import runs
    from dispatch.rehearsal.fleets import AS_IT_IS
    from dispatch.rehearsal.results import USUAL_DAYS, USUAL_START
    from dispatch.rehearsal.setting import read_setting

    wall, cpu = time.perf_counter(), time.process_time()
    call_command("migrate", verbosity=0, interactive=False)
    company: Path = settings.BASE_DIR / "fixtures_demo"
    start = USUAL_START - runs.BEFORE * runs.ONE_DAY
    asked = runs.Asked(company, start, USUAL_DAYS, None, (SEED,), tuple(runs.RULES))
    setting = read_setting(company)
    ready = runs.stage(asked, setting, runs.import_for(asked, setting, AS_IT_IS))
    _say("loading", wall, cpu, "")
    for rule in asked.rules:
        wall, cpu = time.perf_counter(), time.process_time()
        found = runs.run(asked, ready, fleet=AS_IT_IS, rule=rule, seed=SEED).measures
        kept = found.as_document()["promises_kept_pct"]
        _say(rule, wall, cpu, f"{found.calls} calls, {found.visits} visits, {kept:.1f} % of promises kept")


def _say(what: str, wall: float, cpu: float, more: str) -> None:
    print(f"{what:<12} {time.perf_counter() - wall:7.1f} s {time.process_time() - cpu:7.1f} s CPU  {more}", flush=True)


if __name__ == "__main__":
    main()
