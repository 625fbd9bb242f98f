"""`manage.py rehearse` from outside: what it refuses, and on the demo company what it promises."""

import io
import json
from itertools import pairwise
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import call_command

from dispatch.demo.folder import DemoFolder
from dispatch.rehearsal.fleets import spread, with_fleet
from dispatch.rehearsal.report import as_csv, as_html
from dispatch.rehearsal.results import asked_of, result_of
from dispatch.rehearsal.setting import read_setting

DEMO = settings.BASE_DIR / "fixtures_demo"


@pytest.mark.parametrize(
    ("options", "where", "says"),
    [
        ({"surge": "drought"}, "--surge", "freeze, flood"),
        ({"rule": "ours,luck"}, "--rule", "ours, nearest, first-come"),
        ({"fleet": "helicopters"}, "--fleet", "more_vans"),
        ({"days": 0}, "--days", "1 to 120"),
        ({"seeds": "1,x"}, "--seeds", "whole numbers"),
        ({"start": "tomorrow"}, "--from", "2026-01-15"),
        ({"company": Path("nowhere")}, "--company", "rehearsal.toml"),
    ],
)
def test_what_cannot_be_meant_is_refused_before_anything_is_done(
    options: dict[str, object], where: str, says: str, tmp_path: Path
) -> None:
    said = io.StringIO()
    with pytest.raises(SystemExit) as ended:
        call_command("rehearse", out=tmp_path / "out", stderr=said, **options)
    told = json.loads(said.getvalue())
    assert ended.value.code == 2
    assert (told["code"], told["where"]) == ("rehearsal_unusable", where)
    assert says in told["message"]
    assert not (tmp_path / "out").exists()


def test_every_fleet_of_the_demo_changes_the_sheets_as_it_says() -> None:
    setting, sheets = read_setting(DEMO), DemoFolder.read(DEMO).company

    def rows(fleet: str, name: str) -> list[dict[str, str]]:
        return [row.cells for sheet in with_fleet(sheets, setting, fleet) if sheet.name == name for row in sheet.rows]

    def today(fleet: str) -> int:
        return sum(row["day"] == "0" for row in rows(fleet, "crews"))

    assert today("more_vans") == today("as it is") + 3
    assert len(rows("more_vans", "vehicles")) == len(rows("as it is", "vehicles")) + 3
    assert len(rows("more_low_grain", "units")) == len(rows("as it is", "units")) + 40
    assert len({row["number"] for row in rows("more_low_grain", "units")}) == len(rows("more_low_grain", "units"))
    assert sum(row["start"] == "west" for row in rows("fifth_warehouse", "crews")) == 4
    moved = sum(row["place"] == "west" for row in rows("fifth_warehouse", "units"))
    assert moved > 50
    assert len(rows("fifth_warehouse", "units")) == len(rows("as it is", "units"))


def test_a_share_of_a_list_is_as_many_and_spread() -> None:
    chosen = [number for number in range(25) if spread(number, 0.4)]
    assert len(chosen) == 10
    assert max(later - earlier for earlier, later in pairwise(chosen)) <= 3


def test_the_report_shows_every_rule_and_shades_the_better() -> None:
    asked = asked_of(
        company=DEMO,
        start=None,
        days=None,
        storm="freeze",
        seeds="1",
        rules="ours,nearest",
        fleets="as it is",
        iterations=1,
    )
    figures = {
        "calls": 9,
        "urgent_calls": 9,
        "visits": 20,
        "arrival_median_min": 60,
        "arrival_p90_min": 90,
        "never_served": 0,
        "promises_kept_pct": 90.0,
        "arrivals_kept_pct": 90.0,
        "visits_kept_pct": 90.0,
        "days_to_dry_median": None,
        "days_to_dry_p90": None,
        "jobs_short": 0,
        "units_short": 0,
        "drive_h": 10.0,
        "overtime_h": 1.0,
        "paid_h": 90.0,
        "crews_stayed_home": 0,
    }
    lists = {"short_by_kind": {}, "arrivals_min": [30, 60, 90], "days_to_dry": [], "waiting_by_hour": [0, 1, 2]}
    runs = [
        {"fleet": "as it is", "rule": "ours", "seed": 1, **figures, **lists},
        {"fleet": "as it is", "rule": "nearest", "seed": 1, **figures, **lists, "promises_kept_pct": 80.0},
    ]
    result = result_of(asked, runs)
    page = as_html(result)
    assert '<td class="best">90.0</td>' in page
    assert "Most promises are kept by ours" in page
    assert "<script" not in page
    assert "http" not in page.replace("http://www.w3.org", "")
    assert as_csv(result).count("\n") == 3


def test_the_program_itself_is_asked_seed_by_seed_and_the_quick_rules_together() -> None:
    asked = asked_of(
        company=DEMO,
        start=None,
        days=2,
        storm=None,
        seeds="3,4",
        rules="program,ours,nearest",
        fleets="as it is,more_vans",
        iterations=1,
    )
    parts = [(part["fleet"], part["rules"], part["seeds"]) for part in asked.parts()]
    assert parts[:3] == [
        ("as it is", ["ours", "nearest"], [3, 4]),
        ("as it is", ["program"], [3]),
        ("as it is", ["program"], [4]),
    ]
    assert [fleet for fleet, _, _ in parts[3:]] == ["more_vans"] * 3


@pytest.mark.long
def test_the_same_arguments_give_the_same_bytes(tmp_path: Path) -> None:
    for name in ("one", "two"):
        call_command("rehearse", days=3, out=tmp_path / name, quiet=True, stdout=io.StringIO())
    for file in ("result.json", "runs.csv", "report.html"):
        assert (tmp_path / "one" / file).read_bytes() == (tmp_path / "two" / file).read_bytes()
