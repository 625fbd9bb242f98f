"""How urgent a call is, in plain words with the reason and the aim: a suggestion that the desk may overrule."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from jobs.calls.hazards import to_say

LEVELS = {
    "Danger first": "911 or the utility, then us",
    "Go now": "on site within 60 to 120 minutes",
    "Go tonight": "within 4 hours",
    "First in the morning": "at an agreed time",
    "Book a visit": "within 1 to 2 days",
    "Not ours": "refer them, with the reason",
}
_MANY_LIVE_THERE = {"apartment building", "care home", "clinic", "school"}


@dataclass(frozen=True)
class Urgency:
    """The level in words, why, and what is aimed at (our own practice)."""

    level: str
    why: str
    aim: str


def urgency_of(answers: Mapping[str, Any], rooms: Iterable[Mapping[str, Any]]) -> Urgency | None:
    """From what has been answered so far; None while nothing points anywhere."""
    danger = [hazard for hazard in to_say(answers.get("hazards")) if hazard.danger_first]
    if danger:
        return _level("Danger first", danger[0].label)
    for why in _go_now(answers):
        return _level("Go now", why)
    wet = any(room.get("wet_floor_sqft") or room.get("wet_ceiling_sqft") for room in rooms if not room.get("removed"))
    if answers.get("running") == "stopped" and wet:
        return _level("Go tonight", "the water has stopped, floors are wet")
    if answers.get("running") == "stopped":
        return _level("First in the morning", "the water has stopped, nothing wet is told yet")
    return None


def _level(level: str, why: str) -> Urgency:
    return Urgency(level, why, LEVELS[level])


def _go_now(answers: Mapping[str, Any]) -> Iterable[str]:
    if answers.get("running") == "running":
        yield "the water is still running"
    if answers.get("category") == 3 or answers.get("water_source") in ("sewage", "drain_backup"):
        yield "dirty water where people live"
    if answers.get("care"):
        yield "someone there needs care"
    if answers.get("building") in _MANY_LIVE_THERE:
        yield f"many people: {answers['building']}"
