"""Rule sets as data: complete, sourced, and refused by name when they are not."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from equipment.sizing.port import size_document
from equipment.sizing.refused import LossRefused
from equipment.sizing.rule_set import (
    SHIPPED_FOLDER,
    RuleSetRefused,
    chosen_rules,
    parse_rule_set,
    rule_sets_in,
    shipped_rule_sets,
)
from tests.equipment.sizing.losses import chamber, loss, room, run_of_wall, wet_room

SIMPLE = (SHIPPED_FOLDER / "simple-method.toml").read_text(encoding="utf-8")
LINES = [line for line in SIMPLE.splitlines() if re.match(r"\w+ = ", line)]


def leaves(value: Any, path: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    if "source" in value:
        yield path, value
        return
    for key, below in value.items():
        if isinstance(below, dict):
            yield from leaves(below, f"{path}.{key}")


def test_two_rule_sets_ship_and_the_simple_method_is_the_default() -> None:
    assert set(shipped_rule_sets()) == {"simple-method", "linear-feet"}
    assert chosen_rules(None).name == "simple-method"
    report = size_document(loss(chamber(wet_room())))
    assert "simple-method" in report.rules
    assert "2021" in report.rules


@pytest.mark.parametrize("path", sorted(SHIPPED_FOLDER.glob("*.toml")), ids=lambda path: path.stem)
def test_every_shipped_figure_has_source_and_confidence(path: Path) -> None:
    found = dict(leaves(tomllib.loads(path.read_text(encoding="utf-8"))))
    assert len(found) > 30
    for figure in found.values():
        assert figure["source"]
        assert figure["confidence"] in {"published", "practice", "memory"}
        assert ("from memory" in figure["source"]) == (figure["confidence"] == "memory")


@pytest.mark.parametrize("line", LINES, ids=lambda line: line.split(" =")[0])
def test_a_rule_set_with_any_hole_is_refused_by_name(line: str) -> None:
    with pytest.raises(RuleSetRefused) as refused:
        parse_rule_set(SIMPLE.replace(line + "\n", "", 1), "simple-method")
    assert refused.value.name == "simple-method"
    assert "simple-method" in str(refused.value)


@pytest.mark.parametrize("source", ["", "  ", "because", "our 2 guys", "everyone knows", "unknown"])
def test_a_figure_without_a_source_is_refused_by_name(source: str) -> None:
    text = re.sub(r'(lower_wall_ft = .*source = ")[^"]*"', rf'\g<1>{source}"', SIMPLE)
    with pytest.raises(RuleSetRefused) as refused:
        parse_rule_set(text, "simple-method")
    assert refused.value.where.endswith("lower_wall_ft.source")


@pytest.mark.parametrize(
    "source",
    ["trade practice", "common practice, no source", "from memory", "ANSI/IICRC S500:2021", "29 CFR 1910.134",
     "NFPA 70 (NEC) 210.19", "Our handbook, 3rd edition, 2024"],
)  # fmt: skip
def test_these_sources_will_do(source: str) -> None:
    text = re.sub(r'(lower_wall_ft = .*source = ")[^"]*"', rf'\g<1>{source}"', SIMPLE)
    assert parse_rule_set(text, "simple-method").name == "simple-method"


@pytest.mark.parametrize(
    ("old", "new", "where"),
    [
        ("value = 14,", "value = 0,", "lower_wall_ft"),
        ("value = 14,", "value = -14,", "lower_wall_ft"),
        ("value = 14,", "value = nan,", "lower_wall_ft"),
        ("value = 14,", 'value = "14",', "lower_wall_ft"),
        ("value = 70,", "value = 40,", "floor_sqft"),
        ('value = "sum"', 'value = "half"', "rounding"),
        ("refused_classes = [4]", "refused_classes = []", "conventional"),
        ("[power]", "[power]\nsurprise = 1", "surprise"),
        ('name = "simple-method"', 'name = "other"', "name"),
        ("[power]", "[power", "file"),
    ],
)
def test_impossible_rules_are_refused_where_they_stand(old: str, new: str, where: str) -> None:
    assert old in SIMPLE
    with pytest.raises(RuleSetRefused) as refused:
        parse_rule_set(SIMPLE.replace(old, new, 1), "simple-method")
    assert where in refused.value.where


def test_the_open_edges_are_settings() -> None:
    # 1,000 sq ft of surface, 400 wet: exactly 40 %; terms rounded apart: 1 + 1 + 1.
    edge = room(length_ft=20, width_ft=20, height_ft=2.5, wet_ceiling_sqft=400)
    text = SIMPLE.replace("class_at_upper_edge = { value = 2", "class_at_upper_edge = { value = 3")
    text = text.replace('rounding = { value = "sum"', 'rounding = { value = "term"')
    own = {"simple-method": parse_rule_set(text, "simple-method")}
    assert size_document(loss(chamber(edge))).chambers[0].class_ == 2
    assert size_document(loss(chamber(edge)), company_rules=own).chambers[0].class_ == 3
    both = loss(chamber(room(wet_floor_sqft=6, wet_ceiling_sqft=12)))
    assert size_document(both).chambers[0].air_movers.planned == 2
    assert size_document(both, company_rules=own).chambers[0].air_movers.planned == 3


def test_an_unknown_rule_set_is_refused_with_those_known() -> None:
    with pytest.raises(LossRefused) as refused:
        size_document(loss(chamber(wet_room()), rules="nonsense"))
    assert (refused.value.code, refused.value.where) == ("rules_unknown", "rules")
    assert "linear-feet" in refused.value.message


def test_a_missing_folder_is_refused(tmp_path: Path) -> None:
    with pytest.raises(RuleSetRefused):
        rule_sets_in(tmp_path / "nowhere")
    (tmp_path / "latin.toml").write_bytes(b'name = "caf\xe9"')
    with pytest.raises(RuleSetRefused) as refused:
        rule_sets_in(tmp_path)
    assert refused.value.name == "latin"


def test_a_company_says_what_its_kits_serve() -> None:
    text = SIMPLE.replace("value = 24,", "value = 10,").replace("value = 47.9,", "value = 20,")
    own = {"simple-method": parse_rule_set(text, "simple-method")}
    one = wet_room(wall_runs=[run_of_wall()], wet_wood_floor_sqft=45)
    report = size_document(loss(chamber(one)), company_rules=own)
    assert (report.wall_cavities.kits, report.wood_floors.kits) == (2, 3)
    assert {row.kind: row.count for row in report.mix if row.kind.endswith("kit")} == {
        "cavity_kit": 2,
        "floor_mat_kit": 3,
    }
