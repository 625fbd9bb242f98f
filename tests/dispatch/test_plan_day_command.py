"""The plan_day command: plans and publishes, or writes the problem without leaving a trace."""

import json
from io import StringIO
from pathlib import Path

import pytest
import time_machine
from django.core.management import CommandError, call_command

from dispatch.models import Plan, Stop
from dispatch.planner.problem import read_problem
from jobs.models import Visit
from tests.dispatch.night import NIGHT, Night
from tests.dispatch.test_planning import TOMORROW, day

__all__ = ["day"]


@time_machine.travel(NIGHT, tick=True)
def test_the_problem_goes_to_a_file_with_every_visit_and_nothing_is_written(day: Night, tmp_path: Path) -> None:
    before = set(Visit.objects.values_list("pk", flat=True))
    file = tmp_path / "day.json"
    call_command("plan_day", "--day", TOMORROW.isoformat(), "--json", str(file), stdout=StringIO())

    problem = read_problem(file.read_bytes())
    assert len(problem.visits) == 5
    assert json.loads(file.read_text())["format"] == 1
    assert set(Visit.objects.values_list("pk", flat=True)) == before
    assert not Plan.objects.exists()


@time_machine.travel(NIGHT, tick=True)
def test_it_plans_and_publishes(day: Night) -> None:
    said = StringIO()
    call_command("plan_day", "--day", TOMORROW.isoformat(), "--seconds", "1", stdout=said)
    assert "5 visits" in said.getvalue()
    assert Stop.objects.count() == 5


def test_an_unknown_area_names_the_known_ones(day: Night) -> None:
    with pytest.raises(CommandError, match="river"):
        call_command("plan_day", "--area", "nowhere", stdout=StringIO())
