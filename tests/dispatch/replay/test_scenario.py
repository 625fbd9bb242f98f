"""A scenario is refused as a whole, before its first step, and the refusal says where."""

import copy
import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from dispatch.replay import schema
from dispatch.replay.scenario import ScenarioUnusable, checked, read
from tests.golden.night_scenario import scenario

HERE = Path()


def small(**step: Any) -> dict[str, Any]:
    """The worked night's company with one step."""
    told = copy.deepcopy(scenario())
    usual = {"at": "2026-01-15T18:00:00-08:00", "who": "dispatcher", "do": "look", "with": {"page": "my_day"}}
    return {**told, "steps": [{**usual, **step}]}


def where(told: Any) -> str:
    with pytest.raises(ScenarioUnusable) as refused:
        checked(told, beside=HERE)
    return refused.value.where or ""


@pytest.mark.parametrize(
    ("step", "place"),
    [
        ({"do": "teleport"}, "steps[0].do"),
        ({"who": "nobody"}, "steps[0].who"),
        ({"at": "2026-01-15T18:00:00"}, "steps[0].at"),
        ({"at": "tonight"}, "steps[0].at"),
        ({"why": "no such key"}, "steps[0].why"),
        ({"as": "no name"}, "steps[0].as"),
        ({"with": {"page": "cellar"}}, "steps[0].with.page"),
        ({"with": {"page": "my_day", "area_id": 1}}, "steps[0].with.area_id"),
        ({"do": "take_call", "with": {}}, "steps[0].with.area_id"),
        ({"do": "take_call", "with": {"area_id": "one"}}, "steps[0].with.area_id"),
        ({"do": "take_call", "with": {"area_id": 1, "actor": 1}}, "steps[0].with.actor"),
        ({"do": "scan_in", "with": {"numbers": [1], "warehouse_id": 1}}, "steps[0].with.numbers[0]"),
        ({"do": "scan_in", "with": {"numbers": [], "warehouse_id": 1, "happened_at": "2026-01-15T18:00:00"}}, None),
        ({"do": "take_call", "with": {"area_id": "$call.area_id"}}, "steps[0]"),
        ({"do": "take_call", "with": {"area_id": "@area:moon"}}, "steps[0]"),
        ({"do": "take_call", "with": {"area_id": "@planet:river"}}, "steps[0]"),
        ({"do": "plan_day", "with": {"area_id": 1, "day": "2026-01-15"}}, "steps[0].with.iterations"),
        ({"expect": {"refused": "no_such_code"}}, "steps[0].expect.refused"),
    ],
)
def test_a_step_that_cannot_be_meant(step: dict[str, Any], place: str | None) -> None:
    assert where(small(**step)) == (place or "steps[0].with.happened_at")


def test_a_scenario_that_cannot_be_meant() -> None:
    good = small()
    assert where({**good, "format": 2}) == "format"
    assert where({**good, "steps": []}) == "steps"
    assert where({**good, "more": 1}) == "more"
    assert where({**good, "company": "no such folder"}) == "company"
    assert where({**good, "company": {**good["company"], "planets": []}}) == "company.planets"
    assert where([good]) == ""
    vans = [{**van, "warehouse": "moon"} for van in good["company"]["vehicles"]]
    assert where({**good, "company": {**good["company"], "vehicles": vans}}) == "company"


def test_steps_stand_in_the_order_of_their_times() -> None:
    told = small()
    later, earlier = told["steps"][0], {**told["steps"][0], "at": "2026-01-15T17:59:59-08:00"}
    assert where({**told, "steps": [later, earlier]}) == "steps[1].at"
    # The same moment, written in another zone.
    same = {**later, "at": "2026-01-16T02:00:00+00:00"}
    assert len(checked({**told, "steps": [later, same]}, beside=HERE).steps) == 2


@pytest.mark.parametrize("text", ["", "{", '{"format": NaN}', '{"format": 1, "format": 1}', "[" * 100_000])
def test_a_file_that_is_no_json(text: str, tmp_path: Path) -> None:
    path = tmp_path / "night.json"
    path.write_text(text)
    with pytest.raises(ScenarioUnusable, match="no JSON"):
        read(path)


def test_the_schema_takes_the_worked_night_and_no_unknown_verb_or_argument() -> None:
    validator = jsonschema.Draft202012Validator(json.loads(json.dumps(schema.of_scenario())))
    validator.validate(scenario())
    for step in ({"do": "teleport"}, {"do": "take_call", "with": {"area_id": 1, "color": 2}}, {"with": {"page": "x"}}):
        assert not validator.is_valid(small(**step)), step
