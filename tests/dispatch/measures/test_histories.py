"""Random histories: each measure against a count made from plain rows, without a query of its own."""

import random
from datetime import date, timedelta
from statistics import median
from typing import Any

import pytest

from dispatch.measures.definitions import measure_of
from dispatch.measures.reduce import figure
from equipment import places
from equipment.models import Move
from jobs.models import Call, Promise, PromiseEnd, Visit
from tests.dispatch.measures.month import NOW, ZONE, Month, at
from tests.dispatch.night import Night

END, STATE = PromiseEnd.End, Visit.State


def _write(month: Month, chance: random.Random) -> dict[str, list[Any]]:
    """A random history in the database, and what was written, as plain rows."""
    told: dict[str, list[Any]] = {"promises": [], "visits": [], "calls": [], "stays": []}
    job = month.job(opened_at=at(1))
    holder, home = places.holder_for_job(job.pk), month.warehouse()
    for _ in range(chance.randrange(6)):
        due, end = at(chance.randrange(-3, 33), chance.randrange(24)), chance.choice(["", *END.values])
        month.promise(Promise.Kind.ARRIVAL, due, end, job=job)
        told["promises"].append((due, end))
    for _ in range(chance.randrange(6)):
        on, state = date(2026, 3, 1) + timedelta(days=chance.randrange(-3, 33)), chance.choice(STATE.values)
        month.visit(job, on, state=state, reason="why" if state in (STATE.MISSED, STATE.CANNOT_WORK) else "")
        told["visits"].append((on, state))
    for _ in range(chance.randrange(5)):
        rang, after = at(chance.randrange(-2, 19), chance.random() * 20), chance.choice([None, chance.random() * 90])
        ended = {} if after is None else {"ended_at": rang + timedelta(minutes=after), "ended_as": Call.EndedAs.BOOKED}
        month.call(rang, **ended)
        told["calls"].append((rang, after))
    for number in range(chance.randrange(4)):
        unit, when = month.unit(f"{month.made:05d}{number}"), at(-2)
        month.move(unit, home, when, Move.Why.OPENING)
        for _ in range(chance.randrange(4)):
            begins = when + timedelta(hours=chance.randrange(1, 200))
            ends = begins + timedelta(hours=chance.randrange(1, 200))
            month.move(unit, holder, begins)
            month.move(unit, home, ends, Move.Why.TAKEN_UP)
            told["stays"].append((begins, ends))
            when = ends
    month.made += 1
    return told


def _compare(month: Month, told: dict[str, list[Any]]) -> None:
    span = month.span
    today, begins, ends = NOW.astimezone(ZONE).date(), at(1), at(31, 24)

    def worked(code: str) -> Any:
        return figure(measure_of(code).kind, measure_of(code).cases(span))

    counted = [
        end for due, end in told["promises"] if begins <= due < ends and end != END.AGREED_LATER and (end or due < NOW)
    ]
    kept = sum(end == END.KEPT for end in counted)
    assert (worked("promises_kept").part, worked("promises_kept").whole) == (kept, len(counted))

    due_visits = [
        state
        for on, state in told["visits"]
        if on.month == 3
        and on.year == 2026
        and state != STATE.CANCELED
        and (state not in (STATE.DUE, STATE.UNDER_WAY) or on < today)
    ]
    done = worked("visits_done")
    assert (done.part, done.whole) == (due_visits.count(STATE.DONE), len(due_visits))

    minutes = [
        (NOW - rang).total_seconds() / 60 if after is None else after
        for rang, after in told["calls"]
        if begins <= rang < ends
    ]
    back = worked("call_to_call_back")
    assert back.cases == len(minutes)
    assert back.value == (pytest.approx(median(minutes)) if minutes else None)

    there = sum(max(0.0, (min(out, NOW) - max(into, begins)).total_seconds()) / 86_400 for into, out in told["stays"])
    used = sum(case.part for case in measure_of("utilization_by_count").cases(span) if case.group == "heater")
    assert used == pytest.approx(there)


@pytest.mark.parametrize("seed", range(4))
def test_measures_agree_with_a_count_of_plain_rows(night: Night, seed: int) -> None:
    month = Month(night)
    _compare(month, _write(month, random.Random(seed)))


@pytest.mark.long
@pytest.mark.parametrize("seed", range(4, 200))
def test_measures_agree_with_a_count_of_plain_rows_on_many(night: Night, seed: int) -> None:
    month = Month(night)
    _compare(month, _write(month, random.Random(seed)))
