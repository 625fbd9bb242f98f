"""
Equipment-days against a count of every minute, the two nights on which clocks change among them.

The three ways of counting are the payers' (common practice, no source). Clock changes: 15 U.S.C. 260a, second Sunday
in March, first Sunday in November, at 2 a.m. local time.
"""

import random
from collections import Counter
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from equipment.stock.equipment_days import Stay, calendar_days, completed_24h, started_24h, stays
from equipment.stock.replay import MoveFact

PACIFIC = ZoneInfo("America/Los_Angeles")
MINUTE = timedelta(minutes=1)
# Both nights of 2026, and one without a change.
STARTS = (
    datetime(2026, 3, 7, 12, tzinfo=UTC),
    datetime(2026, 10, 31, 12, tzinfo=UTC),
    datetime(2026, 6, 1, tzinfo=UTC),
)
ROOMS = ("kitchen", "hall", "")


def at(text: str, fold: int = 0) -> datetime:
    """A local time of 2026."""
    return datetime.strptime(f"2026-{text}", "%Y-%m-%d %H:%M").replace(tzinfo=PACIFIC, fold=fold)


def history(seed: int) -> list[Stay]:
    """Stays of one unit: some follow at once in another room, some after a while elsewhere."""
    chance = random.Random(seed)
    now, found = chance.choice(STARTS) + chance.randrange(1440) * MINUTE, []
    for _ in range(chance.randint(1, 4)):
        end = now + chance.choice((chance.randint(1, 200), chance.randint(1, 2000), 1440)) * MINUTE
        found.append(Stay(1, chance.choice(ROOMS), now.astimezone(PACIFIC), end.astimezone(PACIFIC)))
        now = end + chance.choice((0, 0, chance.randint(1, 2000))) * MINUTE
    return found


def minute_by_minute(history: list[Stay]) -> tuple[Counter[str], Counter[str], Counter[str]]:
    """Completed, started and calendar days by walking every minute that the unit was there."""
    completed: Counter[str] = Counter()
    started: Counter[str] = Counter()
    first_room: dict[str, str] = {}
    minutes_in_period, room_of_period = 0, ""
    previous_end = None
    for stay in history:
        minute, end = stay.begins_at.astimezone(UTC), stay.ends_at.astimezone(UTC)
        if minute != previous_end:
            minutes_in_period = 0
        while minute < end:
            if minutes_in_period == 0:
                room_of_period = stay.room_name
                started[room_of_period] += 1
            minutes_in_period += 1
            if minutes_in_period == 1440:
                completed[room_of_period] += 1
                minutes_in_period = 0
            first_room.setdefault(f"{minute.astimezone(PACIFIC):%F}", stay.room_name)
            minute += MINUTE
        previous_end = end
    return completed, started, Counter(first_room.values())


def agree(seed: int) -> None:
    told = history(seed)
    completed, started, calendar = minute_by_minute(told)
    assert completed_24h(told) == completed, seed
    assert started_24h(told) == started, seed
    assert calendar_days(told, PACIFIC) == calendar, seed


@pytest.mark.parametrize("seed", range(60))
def test_a_count_of_every_minute_agrees(seed: int) -> None:
    agree(seed)


@pytest.mark.long
def test_a_count_of_every_minute_agrees_on_two_thousand_histories() -> None:
    for seed in range(1000, 3000):
        agree(seed)


@pytest.mark.parametrize(
    ("begins", "ends", "completed", "started", "calendar"),
    [
        # From noon to noon over the night that loses an hour: 23 h have passed, on two dates.
        (at("03-07 12:00"), at("03-08 12:00"), 0, 1, 2),
        (at("03-07 12:00"), at("03-08 13:00"), 1, 1, 2),
        # Over the night that gains one: 25 h.
        (at("10-31 12:00"), at("11-01 12:00"), 1, 2, 2),
        (at("10-31 12:00"), at("11-01 11:00"), 1, 1, 2),
        # The hour that comes twice: from its first to its second half past one, one hour on one date.
        (at("11-01 01:30"), at("11-01 01:30", fold=1), 0, 1, 1),
        # Taken up at midnight: the new date is not touched.
        (at("06-01 00:00"), at("06-03 00:00"), 2, 2, 2),
        (at("06-01 23:59"), at("06-02 00:01"), 0, 1, 2),
    ],
)
def test_worked_by_hand(begins: datetime, ends: datetime, completed: int, started: int, calendar: int) -> None:
    there = [Stay(1, "hall", begins, ends)]
    assert completed_24h(there).total() == completed
    assert started_24h(there).total() == started
    assert calendar_days(there, PACIFIC).total() == calendar


def test_a_unit_carried_from_room_to_room_is_one_unit() -> None:
    there = [
        Stay(1, "kitchen", at("06-01 08:00"), at("06-02 20:00")),
        Stay(1, "hall", at("06-02 20:00"), at("06-04 10:00")),
    ]
    # 74 h from June 1, 8 a.m.: the periods begin in the kitchen on the 1st and 2nd, in the hall on the 3rd and 4th.
    assert started_24h(there) == {"kitchen": 2, "hall": 2}
    assert completed_24h(there) == {"kitchen": 2, "hall": 1}
    assert calendar_days(there, PACIFIC) == {"kitchen": 2, "hall": 2}


def fact(number: int, holder: int, room: str, hours: float, corrects: int | None = None) -> MoveFact:
    return MoveFact(number, 7, holder, room, "in_use", None, None, at("06-01 08:00") + timedelta(hours=hours), corrects)


def test_stays_are_read_from_the_entries_in_their_true_order() -> None:
    moves = [
        fact(1, 50, "", 0),
        fact(2, 9, "kitchen", 1),
        fact(3, 9, "kitchen", 5),
        fact(5, 50, "", 30),
        fact(4, 9, "hall", 20),
        fact(6, 9, "den", 40),
        fact(7, 51, "", 41, corrects=6),
        fact(8, 9, "kitchen", 60),
    ]
    found = stays(moves, holder=9, until=at("06-01 08:00") + timedelta(hours=72))
    hours = [(stay.room_name, *((x - at("06-01 08:00")) / timedelta(hours=1) for x in (stay.begins_at, stay.ends_at)))
             for stay in found]  # fmt: skip
    assert hours == [("kitchen", 1, 20), ("hall", 20, 30), ("kitchen", 60, 72)]
    assert stays(moves, holder=8, until=at("06-09 08:00")) == ()
