"""The page of a shown night: which step runs, hold, next, faster; none of it in any other installation."""

from datetime import datetime, timedelta

import pytest
from django.core.management import CommandError, call_command
from django.http import Http404
from django.test import Client, RequestFactory, override_settings
from django.urls import Resolver404, include, path, resolve
from django.utils import timezone

from config import night
from config.urls import urlpatterns as usual
from dispatch.replay.scenario import Step
from dispatch.replay.stage import Player

SIX = datetime.fromisoformat("2026-01-15T18:00:00-08:00")
urlpatterns = [*usual, path("", include("config.night_urls"))]


@pytest.fixture
def player(monkeypatch: pytest.MonkeyPatch) -> Player:
    steps = [
        Step(at=SIX + timedelta(minutes=n), who="warden", do="scan_in", note=f"note {n}", expect={"scans.#": 2})
        for n in range(3)
    ]
    found = Player(steps, speed=60)
    found._lines.append({"step": 0, "failed": [], "fired": [{"kind": "hold.expire"}]})
    found.hold()
    monkeypatch.setitem(night.playing, "night", found)
    return found


@pytest.mark.django_db
@pytest.mark.urls(__name__)
def test_the_page_says_which_step_is_on_and_its_buttons_move_it(player: Player) -> None:
    with override_settings(NIGHT=True):
        page = Client().get("/night").content.decode()
        assert "Step 1: scan in" in page
        assert "note 1" in page
        assert "scans.#" in page
        assert "1 of 3 steps" in page
        assert "A night is shown" in page
        assert Client().post("/night/hold").headers["Location"] == "/night"
        assert not player.stage().held
        part = Client().post("/night/faster", headers={"HX-Request": "true"}).content.decode()
        assert "120 seconds of the night in one" in part
        assert "<html" not in part
        assert Client().post("/night/explode").status_code == 404
        assert Client().get("/night/next").status_code == 405


def test_nothing_of_it_is_anywhere_else() -> None:
    with pytest.raises(Resolver404):
        resolve("/night")
    with pytest.raises(Http404):
        night.page(RequestFactory().get("/night"))


def test_a_scenario_that_cannot_be_meant_and_a_speed_that_is_none_are_refused(tmp_path, monkeypatch) -> None:  # type: ignore[no-untyped-def]
    monkeypatch.setattr(night.os, "execve", lambda *told: pytest.fail("it must not begin"))
    with pytest.raises(CommandError, match="cannot be read"):
        call_command("demo", "--night", "--scenario", str(tmp_path / "none.json"))
    with pytest.raises(CommandError, match="whole number from 1"):
        call_command("demo", "--night", "--speed", "0")


def test_the_process_goes_by_the_nights_clock(monkeypatch: pytest.MonkeyPatch, player: Player) -> None:
    monkeypatch.setattr(timezone, "now", timezone.now)
    night.go_by(player.now)
    assert timezone.now() == player.now()
