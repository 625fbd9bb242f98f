"""The worked night (tables of our own beside this file) run by the replay: each count holds, a changed one fails."""

import copy
import random
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from dispatch.replay import play as playing
from dispatch.replay.play import play
from dispatch.replay.scenario import ScenarioUnusable, checked
from equipment.models import Move, UnitNow
from tests.golden.night_scenario import scenario


def lines(told: dict[str, Any]) -> list[dict[str, Any]]:
    return list(play(checked(told, beside=Path())))


@pytest.mark.django_db
def test_the_worked_night_balances_when_it_is_replayed() -> None:
    told, played = scenario(), []
    for line in play(checked(told, beside=Path())):
        played.append(line)
        # Whatever a step did: no unit came from nowhere, and each stands where its last entry says.
        models = Counter(UnitNow.objects.values_list("unit__model__code", flat=True))
        assert models == {"AM": 14, "LGR": 6}, line
        last = {move.unit_id: move.to_holder_id for move in Move.objects.order_by("happened_at", "pk")}
        assert dict(UnitNow.objects.values_list("unit_id", "holder_id")) == last, line
    assert [line["failed"] for line in played if line["failed"]] == []
    assert [line for line in played if "refused" in line] == []
    assert Move.objects.exclude(why="opening").count() >= 40
    counts = [line["returned"] for line in played if line["do"] == "look" and isinstance(line["returned"], dict)]
    assert len(counts) == 3
    for stock in counts:
        units = {model: sum(sum(place.get(model, {}).values()) for place in stock.values()) for model in ("AM", "LGR")}
        assert units == {"AM": 14, "LGR": 6}


@pytest.mark.django_db
def test_a_changed_count_is_found() -> None:
    told = copy.deepcopy(scenario())
    middle = [step for step in told["steps"] if step["do"] == "look"][1]
    middle["expect"][""]["J-1001"]["AM"]["in_use"] += 1
    until = told["steps"].index(middle) + 1
    played = lines({**told, "steps": told["steps"][:until]})
    assert [line["step"] for line in played if line["failed"]] == [until - 1]
    assert played[-1]["failed"][0]["expected"]["J-1001"]["AM"]["in_use"] == 6
    assert played[-1]["failed"][0]["found"]["J-1001"]["AM"]["in_use"] == 5


@pytest.mark.django_db
def test_stopped_at_a_random_step_and_resumed_it_ends_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    night = checked(scenario(), beside=Path())
    at = random.Random(9).randrange(10, 50)
    before: list[dict[str, Any]] = []
    keep = playing.keep

    def stop(line: dict[str, Any], **more: Any) -> None:
        if line["step"] == at:
            raise KeyboardInterrupt  # the step's work is done, its transaction is not
        keep(line, **more)

    monkeypatch.setattr(playing, "keep", stop)
    with pytest.raises(KeyboardInterrupt):
        _keep_each(play(night), before)
    monkeypatch.setattr(playing, "keep", keep)
    assert len(before) == at
    after = list(play(night))
    assert after[:at] == before
    assert [line["failed"] for line in after if line["failed"]] == []
    assert len(after) == len(night.steps)
    assert Move.objects.exclude(why="opening").count() == 48
    changed = scenario()
    changed["steps"][at]["note"] = "another scenario"
    with pytest.raises(ScenarioUnusable, match="another scenario"):
        list(play(checked(changed, beside=Path())))


def _keep_each(lines: Iterator[dict[str, Any]], kept: list[dict[str, Any]]) -> None:
    for line in lines:
        kept.append(line)
