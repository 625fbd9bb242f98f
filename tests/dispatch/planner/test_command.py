"""The planner's commands from outside: exit statuses, what stands on which stream, and refusals that say where."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from random import Random
from typing import Any

import pytest

from dispatch.planner.command import main
from dispatch.planner.problem import read_problem
from tests.dispatch.planner.days import random_day
from tests.dispatch.planner.malformed import by_hand, damaged, sound

ROOT = Path(__file__).parents[3]
INSTANCES = ROOT / "tests" / "instances"
BY_HAND = by_hand()


def _refused(capsys: pytest.CaptureFixture[str], arguments: Sequence[str]) -> dict[str, str]:
    """The one refusal on standard error of a command that ends with status 2 and says nothing else."""
    assert main(arguments) == 2
    out, err = capsys.readouterr()
    assert out == ""
    return _one_refusal(err)


def _one_refusal(err: str) -> dict[str, str]:
    refusal: dict[str, str] = json.loads(err)
    assert set(refusal) == {"code", "where", "message"}
    assert all(refusal.values())
    return refusal


def _answer(capsys: pytest.CaptureFixture[str], arguments: Sequence[str], status: int = 0) -> Any:
    assert main(arguments) == status
    out, err = capsys.readouterr()
    assert err == ""
    return json.loads(out)


@pytest.fixture
def day(tmp_path: Path) -> Path:
    path = tmp_path / "problem.json"
    path.write_text(json.dumps(random_day(Random(3), 8, 3, running=False).to_json()))
    return path


@pytest.fixture
def plan(day: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    path = tmp_path / "plan.json"
    path.write_text(json.dumps(_answer(capsys, ["solve", str(day), "--iterations", "1", "--seed", "4"])))
    return path


def test_what_is_damaged_was_sound() -> None:
    read_problem(json.dumps(sound()))


@pytest.mark.parametrize(("text", "where"), BY_HAND, ids=range(len(BY_HAND)))
def test_a_malformed_problem_is_refused_with_its_place(
    text: bytes, where: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "problem.json"
    path.write_bytes(text)
    assert _refused(capsys, ["solve", str(path), "--iterations", "1"])["where"] == where


def _all_refused(seeds: range, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "problem.json"
    for seed in seeds:
        text, where = damaged(Random(seed))
        path.write_bytes(text)
        refusal = _refused(capsys, ["solve", str(path), "--iterations", "1"])
        assert refusal["where"].startswith(where), (seed, where, refusal)


def test_any_damage_is_refused_with_its_place(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _all_refused(range(300), tmp_path, capsys)


@pytest.mark.long
def test_two_thousand_kinds_of_damage_are_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _all_refused(range(300, 2_300), tmp_path, capsys)


def _run(*arguments: str, given: bytes = b"") -> subprocess.CompletedProcess[bytes]:
    command = [sys.executable, "-m", "dispatch.planner", *arguments]
    return subprocess.run(command, input=given, capture_output=True, cwd=ROOT, timeout=120, check=False)


def _refused_by_command(text: bytes, where: str) -> None:
    done = _run("travel", "-", given=text)
    assert (done.returncode, done.stdout) == (2, b"")
    assert _one_refusal(done.stderr.decode())["where"].startswith(where)


def test_real_commands_refuse_with_status_two() -> None:
    for text, where in (BY_HAND[0], BY_HAND[20], damaged(Random(1))):
        _refused_by_command(text, where)


@pytest.mark.long
def test_fifty_real_commands_refuse_with_status_two() -> None:
    for seed in range(25):
        _refused_by_command(*BY_HAND[3 * seed])
        _refused_by_command(*damaged(Random(5_000 + seed)))


def test_a_real_command_solves_and_judges(day: Path, tmp_path: Path) -> None:
    made = _run("solve", str(day), "--iterations", "1")
    assert (made.returncode, made.stderr) == (0, b"")
    plan = tmp_path / "made.json"
    plan.write_bytes(made.stdout)
    judged = _run("check", str(day), str(plan))
    assert judged.returncode == 0
    assert json.loads(judged.stdout) == json.loads(made.stdout)["cost"]


def test_the_same_seed_and_iterations_give_the_same_plan(day: Path, capsys: pytest.CaptureFixture[str]) -> None:
    once, twice = (_answer(capsys, ["solve", str(day), "--iterations", "1", "--seed", "7"]) for _ in range(2))
    for made in (once, twice):
        del made["search"]["seconds"]
    assert once == twice
    assert once["search"]["seed"] == 7


def test_check_prints_the_cost_of_a_sound_plan(day: Path, plan: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert _answer(capsys, ["check", str(day), str(plan)]) == json.loads(plan.read_text())["cost"]


def test_check_prints_every_violation_on_a_line(day: Path, plan: Path, capsys: pytest.CaptureFixture[str]) -> None:
    broken = json.loads(plan.read_text())
    broken["cost"]["total"] += 1
    broken["routes"][0]["driving_m"] += 1
    plan.write_text(json.dumps(broken))
    assert main(["check", str(day), str(plan)]) == 1
    lines = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert [set(line) for line in lines] == [{"code", "crew", "visit", "message"}] * 2
    assert {line["code"] for line in lines} == {"stated_cost", "stated_driving_m"}


def test_check_calls_a_plan_of_another_form_a_violation(
    day: Path, plan: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plan.write_text('{"format": 1}')
    assert _answer(capsys, ["check", str(day), str(plan)], status=1)["code"] == "form"
    plan.write_text("no JSON")
    assert _refused(capsys, ["check", str(day), str(plan)])["code"] == "json"


def test_offers_hold_every_crew_once(day: Path, plan: Path, capsys: pytest.CaptureFixture[str]) -> None:
    left_out = json.loads(plan.read_text())["skipped"]
    assert left_out
    for visit in left_out:
        told = _answer(capsys, ["offers", str(day), str(plan), "--visit", visit["visit"]])
        crews = [o["crew"] for o in told["offers"]] + [n["crew"] for n in told["not_offered"]]
        assert sorted(crews) == ["c0", "c1", "c2"]
        for offer in told["offers"]:
            assert list(offer)[:9] == [
                "crew",
                "position",
                "fetch",
                "arrive",
                "start",
                "added_cost",
                "added_driving_s",
                "made_late",
                "moved",
            ]


def test_offers_refuse_a_planned_visit(day: Path, plan: Path, capsys: pytest.CaptureFixture[str]) -> None:
    planned = next(stop["visit"] for r in json.loads(plan.read_text())["routes"] for stop in r["stops"])
    refusal = _refused(capsys, ["offers", str(day), str(plan), "--visit", planned])
    assert (refusal["code"], refusal["where"]) == ("visit_planned", "--visit")


def test_travel_prints_square_tables(day: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = _answer(capsys, ["travel", str(day)])
    assert set(told) == {"seconds", "meters"}
    n = len(json.loads(day.read_text())["places"])
    assert [len(row) for row in told["seconds"]] == [n] * n
    assert [told["meters"][i][i] for i in range(n)] == [0] * n


def test_a_plan_can_start_another(day: Path, plan: Path, capsys: pytest.CaptureFixture[str]) -> None:
    again = _answer(capsys, ["solve", str(day), "--iterations", "1", "--start", str(plan)])
    assert again["cost"]["total"] <= json.loads(plan.read_text())["cost"]["total"]


@pytest.mark.parametrize(
    "arguments",
    [
        [],
        ["dance"],
        ["solve"],
        ["solve", "p.json", "--seconds", "nan"],
        ["solve", "p.json", "--seconds", "0"],
        ["solve", "p.json", "--seconds", "1", "--iterations", "1"],
        ["solve", "p.json", "--iterations", "-1"],
        ["solve", "p.json", "--engine", "magic"],
        ["solve", "p.json", "--colour", "red"],
        ["solve", "no-such-file.json"],
        ["solve", "bad\0name.json"],
        ["offers", "p.json", "plan.json"],
        ["check", "p.json"],
    ],
)
def test_wrong_arguments_are_refused_like_wrong_input(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    _refused(capsys, arguments)
