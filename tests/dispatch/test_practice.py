"""A practice night: apart from the real company, invented calls that ring in turn, and a review of what was missed."""

from datetime import timedelta
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
import time_machine
from django.test import Client

from config.management.commands.practice import environment
from dispatch.desk.help_pages import PARTS
from dispatch.practice import ring
from dispatch.practice.review import review
from dispatch.practice.scripts import scripts
from jobs import intake
from jobs.calls.fields import BY_KEY
from jobs.models import Call
from tests.dispatch.night import NIGHT, Night


def at(seconds: int) -> Any:
    return NIGHT + timedelta(seconds=seconds)


def test_no_invented_call_rings_among_real_ones(night: Night, client: Client) -> None:
    with pytest.raises(ring.NoPractice):
        ring.ring_practice_call(**night.by(night.dispatcher), area_id=night.cast.area.pk)
    client.force_login(night.dispatcher)
    assert client.get("/desk/practice").status_code == 409
    assert client.post("/desk/practice", {"key": str(uuid4())}).status_code == 409
    assert "Practice night" not in client.get("/desk").content.decode()
    assert not Call.objects.exists()


def test_a_call_rings_is_heard_line_by_line_and_reviewed(night: Night, client: Client, settings: Any) -> None:
    settings.PRACTICE = True
    who = night.dispatcher
    rung = ring.ring_practice_call(**night.by(who), area_id=night.cast.area.pk)
    script = scripts()[0]
    assert rung.script == script.code
    client.force_login(who)
    with time_machine.travel(at(1), tick=False):
        page = client.get(f"/desk/practice/{rung.call_id}/words").content.decode()
        assert script.lines[0].split(".")[0] in page.replace("&#x27;", "'")
        assert script.lines[1][:20] not in page
        for _ in range(len(script.lines)):
            form, ours = {"key": str(uuid4())}, {"HX-Request": "true"}
            said = client.post(f"/desk/practice/{rung.call_id}/words", form, headers=ours)
        assert "has said everything" in said.content.decode()
    told = {"callback_number": "3605550165", "water_source": "appliance", "running": "running"}
    told["room:a:line"] = "hall 4x15"
    for second, (field, value) in enumerate(told.items(), start=10):
        intake.answer_call(**night.by(who, at(second)), call_id=rung.call_id, field=field, value=value, seen=0)
    intake.end_call(**night.by(who, at(60)), call_id=rung.call_id, ended_as="no_crew", reason="they will call back")

    found = review(rung.call_id)
    asked = {one.question: one for one in found.asked}
    assert (asked["Callback number"].right, asked["Callback number"].after) == (True, timedelta(seconds=10))
    assert (asked["Still running"].right, asked["Still running"].would_have_said) == (False, "stopped")
    assert (asked["Town"].noted, asked["Town"].after) == ("", None)
    assert (found.rooms_noted, found.rooms_told) == (1, 2)
    assert (found.ended_right, found.good_end) == (False, "crew sent")
    assert {step.what: step.after for step in found.steps}["Call ended"] == timedelta(seconds=60)
    with time_machine.travel(at(70), tick=False):
        shown = client.get(f"/desk/practice/{rung.call_id}").content.decode()
        assert "not asked" in shown
        assert "nothing is sent" in client.get("/desk").content.decode()
        assert script.title in client.get("/desk/practice").content.decode()
        assert client.get("/desk/practice/999999").status_code == 404
    following = ring.ring_practice_call(**night.by(who, at(90)), area_id=night.cast.area.pk)
    assert following.script == scripts()[1].code


def test_the_practice_sees_nothing_of_the_real_company(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DATABASE_URL", "postgres://real/company")
    monkeypatch.setenv("EBBLINE_SMS_ADDRESS", "https://gateway.example.com")
    its = environment(tmp_path)
    assert (its["DATABASE_URL"], its["REDIS_URL"], its["EBBLINE_DATA"]) == ("", "", str(tmp_path))
    assert its["EBBLINE_NOTICE_TRANSPORT"] == "dispatch.practice.nothing.send_nothing"
    assert its["EBBLINE_BOARD_KEEP"] == "0"


def test_every_invented_call_can_be_noted_as_it_is_told(settings: Any) -> None:
    known = (Path(settings.BASE_DIR) / "fixtures_demo" / "contacts.csv").read_text()
    assert len({script.code for script in scripts()}) == len(scripts()) >= 5
    for script in scripts():
        assert script.ends_as in Call.EndedAs.values
        number = next(ask.value for ask in script.asks if ask.field == "callback_number")
        assert number not in known, "it would be taken for somebody of the demo company"
        for ask in script.asks:
            field = BY_KEY[ask.field]
            if ask.value is not None and field.words:
                assert ask.value in field.words
            assert ask.why.endswith(".")


def test_the_help_names_each_part_once(night: Night, client: Client) -> None:
    client.force_login(night.dispatcher)
    page = client.get("/desk/how").content.decode()
    assert all(page.count(f'id="{part.anchor}"') == 1 for part in PARTS)
    assert 'id="help-here"' in client.get("/desk").content.decode()
    assert 'id="help-here"' in client.get(f"/desk/calls/{night.call()}").content.decode()
