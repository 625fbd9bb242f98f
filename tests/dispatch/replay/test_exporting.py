"""A stored night as a scenario: replayed elsewhere it comes to the same, and nothing private is in it."""

import copy
import json
import os
import subprocess
import sys
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.db import transaction

from dispatch.replay.exporting import NothingRecorded, export_night
from dispatch.replay.looks import LOOKS
from dispatch.replay.neutral import LEFT_OUT, Neutral
from dispatch.replay.play import play
from dispatch.replay.scenario import checked
from equipment.models import Move
from jobs.models import Area, UseCaseCall
from jobs.people import system_user
from tests.architecture import order
from tests.golden.night_scenario import scenario

SIX = datetime.fromisoformat("2026-01-15T18:00:00-08:00")
SECRETS = ("Hanne Overbury", "Overbury", "4711#", "12 Levee Row", "360-555-0123", "her oxygen machine", "The manager")


def small_night() -> dict[str, Any]:
    """The first moves of the worked night, with a call full of private answers, a refusal and a tongue that slips."""
    told = copy.deepcopy(scenario())
    told["steps"] = [step for step in told["steps"] if step["do"] != "look"][:24]
    answers = told["steps"][0]["with"]["answers"]
    answers |= {"caller_name": "Hanne Overbury", "access": "4711#", "care": "her oxygen machine"}
    refused = {"with": {"job_id": "$A.job_id"}, "do": "close", "expect": {"refused": "units_still_there"}}
    missed = {"visit_id": "$A.visit_id", "reason": "Hanne Overbury was out", "told": "Overbury"}
    late = {"at": "2026-01-16T06:30:00-08:00", "who": "dispatcher"}
    told["steps"] += [
        {**late, **refused},
        {**late, "do": "miss_visit", "with": {**missed, "new_time": "2026-01-16T14:00:00-08:00"}},
    ]
    return told


def stock() -> Any:
    return LOOKS["stock"].function(viewer=system_user(), now=SIX, area_id=Area.objects.get().pk)


def played_and_exported(told: dict[str, Any], **more: Any) -> tuple[dict[str, Any], Any, int]:
    """Replay a night and export it; the database is as empty afterwards as it was."""
    with transaction.atomic():
        lines = list(play(checked(told, beside=Path())))
        assert [line for line in lines if line["failed"]] == []
        until = SIX + timedelta(days=2)
        found = export_night(**{"since": None, "until": until, **more})
        kept, moves = stock(), Move.objects.count()
        transaction.set_rollback(True)
    return json.loads(json.dumps(found.scenario)), kept, moves


@pytest.mark.django_db
def test_an_exported_night_comes_to_the_same_and_says_nothing_private() -> None:
    written, kept, moves = played_and_exported(small_night())
    text = json.dumps(written)
    assert [secret for secret in SECRETS if secret in text] == []
    assert LEFT_OUT in text
    assert not UseCaseCall.objects.exists()
    lines = list(play(checked(written, beside=Path())))
    assert [line["failed"] for line in lines if line["failed"]] == []
    assert (stock(), Move.objects.count()) == (kept, moves)
    expected = [step["expect"] for step in written["steps"] if step.get("expect")]
    assert {"refused": "units_still_there"} in expected
    assert len(expected) > 0.8 * len(written["steps"])
    # What a replay did can be exported as well.
    again = export_night(since=None, until=SIX + timedelta(days=2)).scenario
    assert [step["do"] for step in again["steps"]] == [step["do"] for step in written["steps"]]


@pytest.mark.django_db
def test_what_was_before_is_carried_without_expectations_and_an_empty_night_is_refused() -> None:
    since = datetime.fromisoformat("2026-01-16T06:00:00-08:00")
    written, _, _ = played_and_exported(small_night(), since=since)
    before = [step for step in written["steps"][1:] if datetime.fromisoformat(step["at"]) < since]
    assert len(before) > 30
    assert [step for step in before if "expect" in step] == []
    after = written["steps"][len(before) + 1 :]
    assert [step["do"] for step in after] == ["close_job", "miss_visit", "look", "look"]
    with pytest.raises(NothingRecorded):
        export_night(since=since, until=SIX + timedelta(days=2))


def test_the_same_words_are_replaced_by_the_same() -> None:
    neutral = Neutral()
    neutral.person("hoverbury", "Hanne Overbury")
    assert neutral.field("caller_name", "Rolf Quill") == neutral.field("caller_name", "Rolf Quill") == "Caller 001"
    assert neutral.text("Mrs Overbury's and Quill's") == "Mrs Person 001's and Caller 001's"
    assert (neutral.field("lead", "hoverbury"), neutral.user("ebbline")) == ("p001", "ebbline")
    first = neutral.phone("(360) 555-0123")
    assert neutral.text("ring 360.555.0123 or a@b.example") == f"ring {first} or somebody@example.org"
    assert neutral.field("point", [45.62071, -122.57988]) == [45.62, -122.58]
    assert neutral.field("point", "45.62071, -122.57988") == "45.62, -122.58"
    assert neutral.field("point", "1") == "1"  # a point of the drying log
    assert neutral.field("rooms", [{"name": "Overbury den", "note": "key under the pot"}]) == [
        {"name": "Person 001 den", "note": LEFT_OUT}
    ]
    assert neutral.phone("360-") == "360-"


def _manage(*arguments: str, data: Path) -> bytes:
    done = subprocess.run(
        [sys.executable, "manage.py", *arguments],
        cwd=order.ROOT,
        env={**os.environ, "EBBLINE_DATA": str(data), "DATABASE_URL": ""},
        capture_output=True,
        check=False,
    )
    assert done.returncode == 0, (done.stdout[-2000:], done.stderr[-2000:])
    return done.stdout


@pytest.mark.long
def test_the_night_of_the_demo_company_comes_to_the_same_elsewhere(tmp_path: Path) -> None:
    """Stock by place and model, promises kept and broken, every measure, what stands open: the same in both folders."""
    until = "2026-01-17T12:00:00-08:00"
    looks = [
        {"at": until, "who": "ebbline", "do": "look", "with": {"page": page, "area_id": "@area:lower-columbia", **more}}
        for page, more in (("stock", {}), ("measures", {"year": 2026, "month": 1}), ("alarms", {}))
    ]
    told = json.loads((order.ROOT / "fixtures_demo" / "night.json").read_text())
    told["company"] = str(order.ROOT / "fixtures_demo")
    told["steps"] += looks
    files = [tmp_path / name for name in ("night.json", "exported.json")]
    files[0].write_text(json.dumps(told))
    first = _manage("replay", str(files[0]), "--database", str(tmp_path / "first"), data=tmp_path / "own")
    export = ("export_night", "--to", "2026-01-17T11:59:00-08:00", "--out", str(files[1]))
    _manage(*export, data=tmp_path / "first")
    written = json.loads(files[1].read_text())
    files[1].write_text(json.dumps({**written, "steps": [*written["steps"], *looks]}))
    second = _manage("replay", str(files[1]), "--database", str(tmp_path / "second"), data=tmp_path / "own")
    ends = [[json.loads(line)["returned"] for line in out.splitlines()[-3:]] for out in (first, second)]
    assert ends[0] == ends[1]
    text = files[1].read_text()
    for private in ("Marisol", "Tarnwick", "Teasel Field", "555-0201", "kkelmarsh", "Kelmarsh"):
        assert private not in text
