"""The invented night of the demo company, replayed: what its file expects was worked out in the notes beside it."""

import json
from pathlib import Path

import pytest

from dispatch.replay.play import play
from dispatch.replay.scenario import read
from tests.architecture import order

NIGHT: Path = order.ROOT / "fixtures_demo" / "night.json"


def test_the_night_can_be_meant_and_says_why_it_expects_its_figures() -> None:
    night = read(NIGHT)
    assert len(night.steps) >= 80
    assert len({step.as_ for step in night.steps if step.do == "take"}) >= 11
    assert (night.steps[-1].at - night.steps[0].at).total_seconds() >= 24 * 3600
    figures = [step for step in json.loads(NIGHT.read_text())["steps"] if step["with"].get("page") == "stock"]
    assert len(figures) >= 3
    assert all(step["note"] for step in figures)


@pytest.mark.long
@pytest.mark.django_db
def test_every_expectation_of_the_night_holds() -> None:
    lines = list(play(read(NIGHT)))
    assert [(line["step"], line["failed"]) for line in lines if line["failed"]] == []
