"""`manage.py demo --no-serve --call FILE`: another loss gets other counts, another crew, another route."""

import json
import os
import re
import subprocess
import sys
from collections.abc import Callable
from typing import Any

import pytest
from django.conf import settings

pytestmark = pytest.mark.long
Demo = Callable[..., subprocess.CompletedProcess[str]]
DEMO_CALL = settings.BASE_DIR / "fixtures_demo" / "call.json"


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Demo:
    """`demo(told)`: one call of the demo company, whose folder the first call fills and all share."""
    kept = {name: value for name, value in os.environ.items() if name not in {"DATABASE_URL", "REDIS_URL"}}
    folder = tmp_path_factory.mktemp("demo")

    def run(told: dict[str, Any]) -> subprocess.CompletedProcess[str]:
        path = folder / "call.json"
        path.write_text(json.dumps(told), encoding="utf-8")
        return subprocess.run(
            [sys.executable, "manage.py", "demo", "--no-serve", "--call", str(path)],
            cwd=settings.BASE_DIR,
            env={**kept, "EBBLINE_DATA": str(folder)},
            capture_output=True,
            text=True,
            timeout=300,
            check=False,
        )

    return run


def call(**changed: Any) -> dict[str, Any]:
    """The demo folder's call with other answers; `rooms` replaces its rooms."""
    told = json.loads(DEMO_CALL.read_text(encoding="utf-8"))
    rooms = changed.pop("rooms", told["rooms"])
    answers = {key: value for key, value in {**told["answers"], **changed}.items() if value is not None}
    return {"format": 1, "at": told["at"], "answers": answers, "rooms": rooms}


def small() -> dict[str, Any]:
    room = {"id": "bath", "name": "bath", "length_ft": 8, "width_ft": 10, "floor": "ceramic_tile"}
    return call(rooms=[{**room, "wet_floor_sqft": 30, "wet_lower_wall_sqft": 10}])


def big_dirty_far() -> dict[str, Any]:
    """Sewage through a whole floor on the Oregon coast."""
    wet = {"floor": "carpet", "length_ft": 20, "width_ft": 30, "wet_floor_sqft": 600, "wet_lower_wall_sqft": 200}
    rooms = [{"id": f"hall{n}", "name": f"hall {n}", "chamber": "ground floor", **wet} for n in range(3)]
    place = {"street": "40 Net Loft Lane", "zip_code": "97103", "town": "Astoria", "state": "OR", "point": None}
    return call(rooms=rooms, category=3, water_source="sewage", hazards=["sewage"], **place)


def part(report: str, heading: str) -> str:
    """The lines under one heading."""
    found = re.search(rf"^{heading}.*?(?=^[A-Z]{{4,}}|\Z)", report, re.MULTILINE | re.DOTALL)
    assert found, report
    return found[0]


def held(report: str) -> int:
    return sum(int(count) for count in re.findall(r"held (\d+) x", part(report, "SENT")))


def first_crew(report: str) -> str:
    """The crew that was ranked first and is sent."""
    found = re.search(r"^  1\. .*?  (\S+), ", part(report, "CREWS"), re.MULTILINE)
    assert found, report
    return found[1]


def test_a_bigger_dirtier_and_farther_loss_changes_counts_crew_and_route(demo: Demo) -> None:
    first, second = demo(small()), demo(big_dirty_far())

    assert first.returncode == 0, first.stderr
    assert second.returncode == 0, second.stderr
    # Doing it again loads nothing again.
    assert "Loading the demo company" in first.stderr
    assert "Loading the demo company" not in second.stderr
    assert held(second.stdout) > held(first.stdout) > 0
    assert "category 3" in part(second.stdout, "CALL")
    assert "air filtration" in part(second.stdout, "ESTIMATE")
    assert "air filtration" not in part(first.stdout, "ESTIMATE")
    assert first_crew(second.stdout) != first_crew(first.stdout)
    assert "Vancouver, WA" in part(first.stdout, "ROUTE")
    assert "Astoria, OR" in part(second.stdout, "ROUTE")


@pytest.mark.parametrize(
    ("told", "says"),
    [
        (call(callback_number="three sixty"), "number"),
        (call(power=None), "power"),
        (call(nobody="x"), "no field 'nobody'"),
        (call(rooms=[{"id": "a", "name": "hall", "length_ft": -3, "width_ft": 4}]), "length"),
        (call(rooms=[{"id": "a", "name": "hall", "length_ft": 30000, "width_ft": 4}]), "length"),
        (call(rooms=[3]), "room"),
    ],
)
def test_a_call_that_cannot_be_meant_is_refused_by_name(demo: Demo, told: dict[str, Any], says: str) -> None:
    done = demo(told)

    assert done.returncode == 2
    assert says in done.stderr.lower()
    assert "Traceback" not in done.stderr
    assert "SENT" not in done.stdout
