"""Steps run as their people, timers fire between them at their own times, references and expectations hold."""

import copy
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from dispatch.replay.play import play
from dispatch.replay.references import Missing, at_path, resolve
from dispatch.replay.scenario import checked
from jobs.models import UseCaseCall
from tests.golden.night_scenario import scenario

SIX = datetime.fromisoformat("2026-01-15T18:00:00-08:00")
pytestmark = pytest.mark.django_db


def played(*steps: dict[str, Any]) -> list[dict[str, Any]]:
    told = {**copy.deepcopy(scenario()), "steps": list(steps)}
    return list(play(checked(told, beside=Path())))


def step(minutes: int, do: str, who: str = "dispatcher", **more: Any) -> dict[str, Any]:
    renamed = {{"told": "with", "name": "as"}.get(key, key): value for key, value in more.items()}
    return {"at": (SIX + timedelta(minutes=minutes)).isoformat(), "who": who, "do": do, **renamed}


def booked_job(minutes: int = 0) -> tuple[dict[str, Any], ...]:
    answers = {"callback_number": "360-555-0123", "street": "12 Levee Row", "town": "Vancouver", "state": "WA"}
    take = step(minutes, "take", name="call", told={"area_id": "@area:river", "answers": answers})
    booking = {"call_id": "$call.call_id", "due_on": "2026-01-16"}
    return take, step(minutes, "book_visit", name="job", told=booking)


def hold(minutes: int, **more: Any) -> dict[str, Any]:
    told = {
        "job_id": "$job.job_id",
        "wanted": [["$free.0.pool_id", 1]],
        "starts_at": "2026-01-15T19:00:00-08:00",
        "ends_at": "2026-01-17T19:00:00-08:00",
        "keep_for": "PT30M",
        "leads_reason": "the lead asked",
    }
    return step(minutes, "hold", name="held", told=told, **more)


def test_a_timer_fires_at_its_own_time_between_two_steps() -> None:
    lines = played(
        *booked_job(),
        # The pool by what a page says of it: ids go on counting from test to test on PostgreSQL.
        step(0, "look", name="free", told={"page": "availability", "area_id": "@area:river"}),
        hold(1),
        step(30, "look", told={"page": "alarms", "area_id": "@area:river"}),
        step(600, "look", told={"page": "alarms", "area_id": "@area:river"}),
    )
    assert [line["failed"] for line in lines] == [[]] * 6, lines
    assert "returned" in lines[3], lines[3]
    before, after = lines[4]["fired"], lines[5]["fired"]
    assert not [entry for entry in before if "hold" in entry["kind"]]
    (lapsed,) = [entry for entry in after if "hold" in entry["kind"]]
    assert lapsed["at"] == "2026-01-15T18:31:00-08:00"
    call = UseCaseCall.objects.get(verb="expire_hold")
    assert call.now == SIX + timedelta(minutes=31)
    assert call.outcome == "done"


def test_what_a_role_may_not_do_is_refused_and_recorded() -> None:
    told = {"area_id": "@area:river"}
    lines = played(
        step(0, "take_call", who="warehouse", told=told, expect={"refused": "not_allowed"}),
        step(0, "look", who="crew_lead", told={"page": "board", **told}, expect={"refused": "not_allowed"}),
        step(0, "take_call", who="warehouse", told=told, expect={"refused": "call_over"}),
        step(0, "take_call", told=told, expect={"refused": "not_allowed"}),
        step(0, "take_call", who="warehouse", told=told, expect={"call_id": 1}),
        step(0, "take_call", who="warehouse", told=told),
    )
    assert [bool(line["failed"]) for line in lines] == [False, False, True, True, True, False]
    assert {line["refused"]["code"] for line in lines if "refused" in line} == {"not_allowed"}
    assert UseCaseCall.objects.filter(verb="take_call", outcome="refused").count() == 4


def test_a_reference_to_what_was_refused_fails_its_step() -> None:
    lines = played(
        step(0, "take_call", who="warehouse", name="call", told={"area_id": "@area:river"}),
        step(1, "end_call", told={"call_id": "$call.call_id", "ended_as": "no_crew", "reason": "dry"}),
    )
    assert "returned nothing" in lines[1]["not_done"]
    assert lines[1]["failed"]


def test_a_reference_of_the_wrong_kind_fails_its_step() -> None:
    lines = played(*booked_job(), step(1, "close", told={"job_id": "$job.job_number"}))
    assert lines[2]["not_done"].startswith("with.job_id:")


def test_expectations_compare_by_path() -> None:
    told = {"area_id": "@area:river"}
    expect = {"call_id": "$call.call_id", "area_id": "@area:river", "": "never", "call_id.0": 1, "nowhere": 1}
    lines = played(step(0, "take_call", name="call", told=told), step(0, "take_call", told=told, expect=expect))
    failed = {row["path"]: row for row in lines[1]["failed"]}
    assert set(failed) == {"call_id", "", "call_id.0", "nowhere"}
    assert failed["call_id"]["found"] == failed["call_id"]["expected"] + 1


def test_paths_and_references() -> None:
    value = {"offers": [{"crew": "a"}, {"crew": "b"}]}
    assert at_path(value, "offers.1.crew") == "b"
    assert at_path(value, "offers.#") == 2
    assert at_path(value, "") == value
    with pytest.raises(Missing, match="a list of 2"):
        at_path(value, "offers.2")
    assert resolve({"a": ["$x.offers.0.crew", "$$x", "@@x", "$5 each"]}, {"x": value}) == {
        "a": ["a", "$x", "@x", "$5 each"]
    }
    with pytest.raises(Missing, match="no such vehicle"):
        resolve("@vehicle:V9", {})
