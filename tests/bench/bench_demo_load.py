"""
What the demo costs before it serves, in CPU seconds, and how long one scan takes with the demo company loaded.

    python -m tests.bench.bench_demo_load

Works in a new empty folder. CPU seconds, because the wall clock of a busy machine says nothing; the scans are also
timed by the wall: the median and the slowest of 40.
"""

from __future__ import annotations

import os
import statistics
import tempfile
import time
from uuid import uuid4

SCANS = 40


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        os.environ.update(EBBLINE_DATA=folder, DJANGO_SETTINGS_MODULE="config.settings")
        os.environ.pop("DATABASE_URL", None)
        _load()
        _scan()


def _load() -> None:
    steps = _Steps()
    import django

    django.setup()
    steps.done("start")
    from config import serving

    serving.prepare()
    steps.done("migrate")
    from django.conf import settings
    from django.contrib.auth.models import User
    from django.utils import timezone

    from dispatch.demo import load, night

    now = timezone.now()
    loaded = load.load(settings.BASE_DIR / "fixtures_demo", now=now)
    load.set_password(loaded.sign_ins.values(), "not for sign-in")
    steps.done("load")
    desk = User.objects.get(username=loaded.sign_ins["dispatcher"])
    night.send_crews(loaded.open_calls, desk=desk, key=load.DEMO, now=now)
    steps.done("night")
    __import__("config.wsgi")
    steps.done("application")
    print(f"{'all':<12} {time.process_time():6.2f} s CPU")


def _scan() -> None:
    """Ready units of one warehouse onto a vehicle, one by one, as a device sends them."""
    from django.contrib.auth.models import User
    from django.utils import timezone

    from equipment.custody import scan_out
    from equipment.models import UnitNow, Vehicle

    ready = UnitNow.objects.filter(condition="ready", holder__kind="warehouse").order_by("unit__number")
    numbers = ready.values_list("unit__number", flat=True)[: SCANS + 1]
    vehicle = Vehicle.objects.order_by("pk").first()
    keeper = User.objects.filter(memberships__role="warehouse").first()
    assert vehicle is not None
    assert keeper is not None
    walls, cpus = [], []
    for number in numbers:
        wall, cpu = time.perf_counter(), time.process_time()
        scan_out(key=uuid4(), actor=keeper, now=timezone.now(), numbers=(number,), vehicle_id=vehicle.pk)
        walls.append(1000 * (time.perf_counter() - wall))
        cpus.append(1000 * (time.process_time() - cpu))
    # The first one compiles what the others use again.
    print(
        f"one scan     {statistics.median(cpus[1:]):6.1f} ms CPU (slowest {max(cpus[1:]):.1f}), "
        f"{statistics.median(walls[1:]):.1f} ms wall (slowest {max(walls[1:]):.1f})"
    )


class _Steps:
    def __init__(self) -> None:
        self.last = time.process_time()

    def done(self, what: str) -> None:
        now = time.process_time()
        print(f"{what:<12} {now - self.last:6.2f} s CPU", flush=True)
        self.last = now


if __name__ == "__main__":
    main()
