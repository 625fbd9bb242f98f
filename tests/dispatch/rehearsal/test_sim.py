"""The rehearsed world by what must always hold in it, and its demand by what was asked of it."""

import math
import statistics
from collections import Counter
from dataclasses import replace
from datetime import date
from itertools import pairwise

import pytest

from dispatch.rehearsal.sim.demand import Storm, draw, drying_days
from dispatch.rehearsal.sim.facts import DAY_S, FIRST, PICK_UP
from dispatch.rehearsal.sim.measures import Window, measured
from dispatch.rehearsal.sim.ours import Ours
from dispatch.rehearsal.sim.queues import FirstCome, Nearest
from dispatch.rehearsal.sim.records import Log, Seen, Short
from dispatch.rehearsal.sim.world import World
from jobs.science.forecast import LONGEST_DAYS
from tests.dispatch.rehearsal.stages import FIGURES, HOUR, company, demand

START = date(2026, 1, 12)
SEED = 5


def one(desk: type, *, days: int = 10, seed: int = SEED, calls: float = 60, movers: int = 40) -> World:
    jobs = draw(demand(calls_a_month=calls), seed=seed, start=START, days=days - 2)
    world = World(company(movers=movers), jobs, desk, days=days, figures=FIGURES)
    world.run()
    return world


@pytest.mark.parametrize("desk", [FirstCome, Nearest, pytest.param(Ours, marks=pytest.mark.long)])
def test_what_must_always_hold(desk: type) -> None:
    world = one(desk, movers=12)
    log = world.log
    assert log.seen, "nothing was rehearsed"

    # A crew is in one place at a time, and a task is made once.
    for crew in {row.crew for row in log.seen}:
        mine = sorted((row for row in log.seen if row.crew == crew), key=lambda row: row.left_s)
        assert all(before.leave_s <= after.left_s for before, after in pairwise(mine))
    assert max(Counter(row.task for row in log.seen).values()) == 1

    # Nobody is there before the call, and every visit follows the one before it by a day at least.
    for job in {row.job for row in log.seen}:
        mine = sorted((row for row in log.seen if row.job == job), key=lambda row: row.arrive_s)
        assert mine[0].kind == FIRST
        assert mine[0].arrive_s >= log.callers[job]
        assert [row.arrive_s // DAY_S for row in mine] == sorted({row.arrive_s // DAY_S for row in mine})
        assert all(row.kind != PICK_UP for row in mine[:-2])

    # Crews rest between two shifts.
    by_person: dict[str, list[tuple[int, int]]] = {}
    for worked in log.worked:
        by_person.setdefault(worked.crew.split()[0], []).append((worked.from_s, worked.end_s))
    for spells in by_person.values():
        assert all(later[0] - earlier[1] >= FIGURES.rest_s for earlier, later in pairwise(spells))

    # No machine is made or lost: what is in the wash is all that may be missing.
    begun = Counter({"air_mover": 12, "lgr": 8})
    assert not world.machines.total() - begun
    assert log.short, "a company of twelve air movers must have been short"


def test_the_same_seed_gives_the_same_log_and_another_one_does_not() -> None:
    first, again, other = one(Nearest), one(Nearest), one(Nearest, seed=SEED + 1)
    assert first.log == again.log
    assert first.log.callers != other.log.callers


def test_every_rule_has_the_same_callers_and_the_same_chance() -> None:
    first, nearest = one(FirstCome), one(Nearest)
    assert first.jobs == nearest.jobs


def test_more_calls_do_not_change_what_chance_decided_about_the_first() -> None:
    """Streams by purpose and number: a storm later on leaves the calls before it as they were."""
    quiet = draw(demand(), seed=SEED, start=START, days=6)
    storm = draw(demand(), seed=SEED, start=START, days=6, storms=[Storm("freeze", 3)])
    before = [job for job in quiet if job.called_s < 3 * DAY_S]
    assert before
    assert before == [job for job in storm if job.called_s < 3 * DAY_S]
    assert len(storm) > len(quiet)


def test_a_storm_brings_as_many_calls_as_its_days_say() -> None:
    """(4 + 8 + 5 - 3) times an ordinary day more; the mean of 60 draws lies within four standard errors."""
    ordinary = 60 / (365.25 / 12)
    expected = ordinary * 3 + ordinary * (4 + 8 + 5 - 3)
    counts = [len(draw(demand(), seed=seed, start=START, days=3, storms=[Storm("freeze", 0)])) for seed in range(60)]
    assert abs(statistics.fmean(counts) - expected) < 4 * math.sqrt(expected / len(counts))


def test_drying_lies_around_the_usual_days() -> None:
    """Half of the jobs take less than the likely days; low and high hold about four of five, as they claim."""
    days = [drying_days((2, 3, 5), SEED, number) for number in range(2000)]
    assert 2.85 < statistics.median(days) < 3.15
    assert 0.72 < sum(3 / math.sqrt(2.5) * 0.97 < value < 3 * math.sqrt(2.5) * 1.03 for value in days) / 2000 < 0.9
    assert max(days) <= LONGEST_DAYS


def test_the_measures_of_a_log_worked_by_hand() -> None:
    """
    Two callers in the window, one before it. Caller 1 waits 60 minutes and is in time, caller 2 is never served and
    his promise is over; of two daily visits one is an hour late. Kept 2 of 4.
    """
    jobs = draw(demand(), seed=SEED, start=START, days=9)[:3]
    jobs = tuple(
        replace(job, number=number, called_s=called_s, due_s=called_s + 4 * HOUR, urgent=True)
        for number, (job, called_s) in enumerate(zip(jobs, (DAY_S, DAY_S + HOUR, 0), strict=True), start=1)
    )
    log = Log(
        seen=[
            Seen("v1", 1, FIRST, "c", DAY_S + 4 * HOUR, DAY_S, DAY_S + HOUR, DAY_S + 3 * HOUR),
            Seen("v3", 3, FIRST, "c", HOUR, 0, 9 * HOUR, 9 * HOUR),
            Seen("v1.1", 1, "monitoring", "c", DAY_S + 18 * HOUR, 0, DAY_S + 18 * HOUR, 0),
            Seen("v1.2", 1, "monitoring", "c", DAY_S + 20 * HOUR, 0, DAY_S + 21 * HOUR, 0),
        ],
        short=[Short(1, 0, "lgr", 2), Short(3, 0, "lgr", 9)],
        still_open=[("v2", 2, FIRST, DAY_S + 5 * HOUR)],
        callers={1: DAY_S, 2: DAY_S + HOUR, 3: 0},
    )
    found = measured(log, jobs, Window.of_days(1, 1, 3)).as_document()
    assert found["calls"] == 2
    assert found["arrival_median_min"] == 60
    assert found["never_served"] == 1
    assert (found["arrivals_kept_pct"], found["visits_kept_pct"], found["promises_kept_pct"]) == (50.0, 50.0, 50.0)
    assert (found["jobs_short"], found["units_short"]) == (1, 2)
