"""The command: exit statuses, what stands on which stream, and its own faults."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from equipment.sizing.__main__ import main
from equipment.sizing.rule_set import SHIPPED_FOLDER
from tests.equipment.sizing.losses import chamber, loss, wet_room


def test_a_file_and_standard_input_give_the_same_report(tmp_path: Path) -> None:
    text = json.dumps(loss(chamber(wet_room("cuisine d'été"))), ensure_ascii=False)
    (tmp_path / "loss.json").write_text(text, encoding="utf-8")
    command = [sys.executable, "-m", "equipment.sizing"]
    by_file = subprocess.run([*command, str(tmp_path / "loss.json")], capture_output=True, timeout=60)
    piped = subprocess.run([*command, "-"], input=text.encode(), capture_output=True, timeout=60)
    assert by_file.returncode == piped.returncode == 0
    assert by_file.stdout == piped.stdout
    assert by_file.stderr == b""
    assert json.loads(by_file.stdout)["chambers"][0]["rooms"][0]["name"] == "cuisine d'été"


@pytest.mark.parametrize("arguments", [[], ["a", "b"], ["--what"], ["missing.json"], ["\x00"], ["."]])
def test_a_wrong_call_is_refused_like_a_wrong_loss(
    arguments: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(arguments) == 2
    streams = capsys.readouterr()
    assert streams.out == ""
    assert json.loads(streams.err)["code"] in {"usage", "file"}


def test_a_company_rule_set_is_used_by_name(tmp_path: Path, capfdbinary: pytest.CaptureFixture[bytes]) -> None:
    shipped = (SHIPPED_FOLDER / "simple-method.toml").read_text(encoding="utf-8")
    own = shipped.replace('name = "simple-method"', 'name = "our-way"').replace(
        'value = 50, unit = "cu', 'value = 45, unit = "cu'
    )
    (tmp_path / "our-way.toml").write_text(own, encoding="utf-8")
    (tmp_path / "loss.json").write_text(json.dumps(loss(chamber(wet_room()), rules="our-way")), encoding="utf-8")
    assert main([str(tmp_path / "loss.json"), "--rules-folder", str(tmp_path)]) == 0
    report = json.loads(capfdbinary.readouterr().out)
    assert report["rules"].startswith("our-way")
    assert report["chambers"][0]["dehumidification"]["pints_per_day"] == 25.6


def test_a_company_rule_set_with_a_hole_is_refused_by_name(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "our-way.toml").write_text('name = "our-way"', encoding="utf-8")
    assert main(["-", "--rules-folder", str(tmp_path)]) == 2
    refusal = json.loads(capsys.readouterr().err)
    assert refusal["code"] == "rule_set"
    assert "our-way" in refusal["message"]
