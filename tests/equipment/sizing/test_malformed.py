"""Whatever comes in: a report or a refusal that names its place, never a traceback, NaN or a negative count."""

from __future__ import annotations

import json
import subprocess
import sys
from typing import Any

import pytest

from equipment.sizing.codes import INPUT_CODES
from equipment.sizing.port import run
from equipment.sizing.refused import LossRefused
from tests.equipment.sizing.malformed import BROKEN_TEXTS, at_random, by_hand, whole

BY_HAND = list(by_hand())
SEED = 20260115


def answer(raw: bytes) -> dict[str, Any] | LossRefused:
    try:
        text = run(raw)
    except LossRefused as refused:
        return checked(refused)
    report: dict[str, Any] = json.loads(text, parse_constant=lambda name: pytest.fail(name))
    check_counts(report)
    return report


def checked(refused: LossRefused) -> LossRefused:
    assert refused.code in INPUT_CODES
    assert refused.where
    assert refused.message.endswith((".", "?"))
    return refused


def check_counts(value: Any, key: str = "") -> None:
    if isinstance(value, dict):
        for name, below in value.items():
            check_counts(below, name)
    elif isinstance(value, list):
        for below in value:
            check_counts(below, key)
    elif isinstance(value, int | float) and key not in {"limit_a", "dew_point_f"}:
        assert value >= 0, key


def test_there_are_more_than_two_hundred_made_by_hand() -> None:
    assert len(BY_HAND) + len(BROKEN_TEXTS) >= 200


def test_the_loss_they_are_made_from_is_good() -> None:
    assert isinstance(answer(json.dumps(whole()).encode()), dict)


@pytest.mark.parametrize(("where", "document"), BY_HAND, ids=[f"{n}-{path}" for n, (path, _) in enumerate(BY_HAND)])
def test_one_fault_is_refused_where_it_is(where: str, document: dict[str, Any]) -> None:
    refused = answer(json.dumps(document).encode())
    assert isinstance(refused, LossRefused)
    # An object of another type, or a list's entry, is named at the entry.
    assert refused.where == where or refused.where.startswith(f"{where}[0]") or "name" in where or "model" in where


@pytest.mark.parametrize("raw", BROKEN_TEXTS, ids=range(len(BROKEN_TEXTS)))
def test_broken_text_is_refused(raw: bytes) -> None:
    assert isinstance(answer(raw), LossRefused)


def test_random_damage_is_answered() -> None:
    outcomes = [isinstance(answer(raw), LossRefused) for raw in at_random(300, SEED)]
    assert True in outcomes
    assert False in outcomes


@pytest.mark.long
def test_five_thousand_random_losses_are_answered() -> None:
    for raw in at_random(5_000, SEED + 1):
        answer(raw)


def command(raw: bytes) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run([sys.executable, "-m", "equipment.sizing", "-"], input=raw, capture_output=True, timeout=60)


def check_command(raw: bytes) -> None:
    done = command(raw)
    if done.returncode == 0:
        json.loads(done.stdout)
        assert done.stderr == b""
        return
    assert done.returncode == 2
    assert done.stdout == b""
    refusal = json.loads(done.stderr)
    assert set(refusal) == {"code", "where", "message"}
    assert all(refusal.values())


@pytest.mark.parametrize("raw", [BROKEN_TEXTS[0], BROKEN_TEXTS[13], json.dumps(BY_HAND[0][1]).encode()])
def test_a_refusal_by_the_command(raw: bytes) -> None:
    check_command(raw)


@pytest.mark.long
def test_fifty_malformed_losses_as_commands() -> None:
    made = [json.dumps(document).encode() for _, document in BY_HAND]
    for raw in [*BROKEN_TEXTS, *made[:: len(made) // 20], *at_random(10, SEED + 2)]:
        check_command(raw)
