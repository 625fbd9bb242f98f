"""Clocks against an oracle: one end each, late ones always shown, exact on the nights on which clocks change."""

from datetime import UTC, date, datetime, timedelta
from typing import Any
from uuid import uuid4
from zoneinfo import ZoneInfo

import pytest
from django.contrib.auth.models import User
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from jobs import clock_board, clocks, stops, visits
from jobs.clock_times import elapsed, end_of_day, in_words, kept
from jobs.models import Job, Promise, PromiseEnd
from tests.jobs.conftest import NIGHT, later

ZONES = ["America/Los_Angeles", "America/Boise"]  # Malheur County, Oregon, keeps Mountain Time


@given(st.dates(date(2024, 1, 1), date(2030, 1, 1)), st.sampled_from(ZONES))
@example(date(2026, 3, 8), "America/Los_Angeles")
@example(date(2026, 11, 1), "America/Boise")
def test_a_day_ends_at_the_first_moment_whose_local_date_is_the_next(on: date, zone: str) -> None:
    ends = end_of_day(on, zone)
    assert ends.astimezone(ZoneInfo(zone)).date() == on + timedelta(days=1)
    assert (ends - timedelta(seconds=1)).astimezone(ZoneInfo(zone)).date() == on


# 15 U.S.C. 260a: clocks change on the second Sunday of March and the first of November, at 2 a.m.
@pytest.mark.parametrize(
    ("on", "hours"), [(date(2026, 3, 7), 24), (date(2026, 3, 8), 23), (date(2026, 11, 1), 25), (date(2026, 11, 2), 24)]
)
@pytest.mark.parametrize("zone", ZONES)
def test_a_day_is_an_hour_shorter_or_longer_where_clocks_change(on: date, hours: int, zone: str) -> None:
    assert end_of_day(on, zone) - end_of_day(on - timedelta(days=1), zone) == timedelta(hours=hours)


@pytest.mark.parametrize("zone", ZONES)
def test_minutes_are_real_minutes_across_the_change(zone: str) -> None:
    before = datetime(2026, 11, 1, 1, 30, tzinfo=ZoneInfo(zone))  # the first of the two half past ones
    due_at = elapsed(before, minutes=60)
    assert due_at.astimezone(ZoneInfo(zone)).strftime("%H:%M") == "01:30"
    assert in_words(due_at=due_at.astimezone(ZoneInfo(zone)), now=before) == "1 h left"
    spring = datetime(2026, 3, 8, 1, 30, tzinfo=ZoneInfo(zone))
    assert elapsed(spring, minutes=60).astimezone(ZoneInfo(zone)).strftime("%H:%M") == "03:30"


@given(st.integers(-400_000, 400_000))
@example(0)
@example(-1)
@example(59)
def test_words_are_never_rosier_than_the_clock(seconds: int) -> None:
    due_at = NIGHT + timedelta(seconds=seconds)
    words = in_words(due_at=due_at, now=NIGHT)
    assert words.startswith("late by") is not kept(due_at=due_at, happened_at=NIGHT)
    units = {"d": 1440, "h": 60, "min": 1}
    parts = words.removeprefix("late by ").removesuffix(" left").split()
    told = (
        0 if words == "due now" else sum(int(n) * units[unit] for n, unit in zip(parts[::2], parts[1::2], strict=True))
    )
    # Beyond a day the words leave out the minutes.
    exact = seconds / 60 if seconds >= 0 else -(seconds // 60)
    assert 0 <= exact - told < (1 if abs(seconds) < 86_340 else 60)


STEPS = st.lists(
    st.tuples(st.integers(1, 200), st.sampled_from(["look", "agree", "arrive"]), st.integers(1, 300)), max_size=6
)


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.integers(0, 300), STEPS)
@example(100, [(100, "arrive", 1)])
@example(100, [(101, "look", 1), (1, "agree", 50), (51, "arrive", 1)])
def test_every_clock_has_exactly_one_end_and_a_late_one_is_shown(
    job: Job, manager: User, due_in: int, steps: list[tuple[int, str, int]]
) -> None:
    added = visits.add_visit(
        **by(manager, 0), job_id=job.pk, kind="emergency", due_on=NIGHT.date(), due_at=later(due_in)
    )
    mine = Promise.objects.filter(visit_id=added.visit_id)
    minute, due, expected = 0, due_in, []
    running = True
    for wait, what, more in [*steps, (1, "arrive", 1)]:
        minute += wait
        shown = {
            line.promise_id: line.late
            for line in clock_board.running_clocks(
                area_id=job.area_id, zone=ZoneInfo(ZONES[0]), now=later(minute), most_ahead=0
            ).lines
            if line.promise_id in set(mine.values_list("pk", flat=True))
        }
        assert list(shown.values()) == ([True] if running and minute > due else [])
        if what == "agree" and running:
            expected.append("agreed_later" if minute <= due else "broken")
            due = max(minute, due) + more
            clocks.agree_another_time(
                **by(manager, minute),
                promise_id=clocks.running(mine).get().pk,
                new_due_at=later(due),
                with_whom="the owner",
            )
        elif what == "arrive" and running:
            expected.append("kept" if minute <= due else "broken")
            stops.arrive_at_stop(**by(manager, minute), visit_id=added.visit_id)
            running = False
    rows = PromiseEnd.objects.filter(promise__in=mine).order_by("promise__due_at", "promise_id")
    assert [row.end for row in rows] == expected
    assert mine.count() == len(expected)


def by(who: User, minutes: float) -> dict[str, Any]:
    return {"key": uuid4(), "actor": who, "now": later(minutes)}


def test_two_times_in_one_zone_differ_by_real_minutes() -> None:
    pacific = ZoneInfo("America/Los_Angeles")
    now = datetime(2026, 11, 1, 0, 30, tzinfo=pacific)
    due_at = datetime(2026, 11, 1, 2, 30, tzinfo=pacific)
    assert in_words(due_at=due_at, now=now) == "3 h left"
    assert due_at.astimezone(UTC) - now.astimezone(UTC) == timedelta(hours=3)
