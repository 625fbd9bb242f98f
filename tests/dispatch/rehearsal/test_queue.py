"""A rehearsal against queues that can be worked out: by hand, and by the formula of the single server.

M/M/1: mean wait in queue Wq = rho / (mu - lambda), Kleinrock, Queueing Systems vol. 1 (1975), section 3.2; from memory.
Confidence by batch means, Law & Kelton, Simulation Modeling and Analysis; from memory. Student's t, 19 degrees: 2.093.
"""

import math
import statistics

import pytest

from dispatch.planner.problem import Place
from dispatch.rehearsal.sim.facts import Company, Depot, Job, Shift
from dispatch.rehearsal.sim.queues import FirstCome, Nearest
from dispatch.rehearsal.sim.records import Log
from dispatch.rehearsal.sim.road import Road
from dispatch.rehearsal.sim.streams import stream
from dispatch.rehearsal.sim.world import World

HOUR = 3600
BATCHES, OF_EACH, T_19 = 20, 500, 2.093
HOME = Place(id="home", lat=45.6, lon=-122.6)


def one_crew(days: int) -> Company:
    """One crew that never goes home."""
    shift = Shift(
        "only", ("lead",), "van", "home", 0, days * 24 * HOUR, days * 24 * HOUR * 2, frozenset(), frozenset(), {}
    )
    return Company((Depot(HOME, {}, 0),), (shift,))


def job(number: int, *, called: int, takes: int, at: float, due: int = 10**9) -> Job:
    place = Place(id=f"job {number}", lat=at, lon=-122.6)
    return Job(number, called, place, due, takes, takes)


def test_one_crew_with_fixed_times_is_the_queue_worked_by_hand() -> None:
    """
    Every drive takes 10 minutes, each visit an hour but the third, which takes two.

    call 0:00 -> leaves 0:00, there 0:10, leaves 1:10
    call 0:30 -> waits until 1:10, there 1:20, leaves 2:20
    call 0:40 -> waits until 2:20, there 2:30, leaves 4:30
    call 9:00 -> the crew is idle: there 9:10, leaves 10:10
    """
    jobs = [
        job(1, called=0, takes=HOUR, at=45.61),
        job(2, called=HOUR // 2, takes=HOUR, at=45.62),
        job(3, called=2400, takes=2 * HOUR, at=45.63),
        job(4, called=9 * HOUR, takes=HOUR, at=45.64),
    ]
    road = Road(lambda a, b: 0 if a == b else 600)
    log = World(one_crew(1), jobs, FirstCome, days=1, road=road).run()
    assert [(seen.job, seen.left_s, seen.arrive_s, seen.leave_s) for seen in log.seen] == [
        (1, 0, 600, 4200),
        (2, 4200, 4800, 8400),
        (3, 8400, 9000, 16200),
        (4, 32400, 33000, 36600),
    ]
    assert log.still_open == []


def test_the_nearest_rule_takes_the_nearer_of_two_who_wait() -> None:
    """The second caller lives farther than the third; the road's seconds are minutes of latitude from home."""
    jobs = [
        job(1, called=0, takes=HOUR, at=45.61),
        job(2, called=600, takes=HOUR, at=45.70),
        job(3, called=1200, takes=HOUR, at=45.62),
    ]
    road = Road(lambda a, b: round(abs(a.lat - b.lat) * 6000))
    order = {
        desk: [seen.job for seen in World(one_crew(1), jobs, desk, days=1, road=road).run().seen]
        for desk in (FirstCome, Nearest)
    }
    assert order == {FirstCome: [1, 2, 3], Nearest: [1, 3, 2]}


def single_server(seed: int, *, customers: int, apart: float, takes: float) -> Log:
    """Calls by chance, visits that take by chance, no driving."""
    gaps = stream(seed, "calls").exponential(apart, customers)
    service = stream(seed, "service").exponential(takes, customers)
    called, jobs = 0.0, []
    for number in range(customers):
        called += gaps[number]
        jobs.append(job(number, called=round(called), takes=max(1, round(service[number])), at=45.6))
    days = math.ceil(called / (24 * HOUR)) + 30
    return World(one_crew(days), jobs, FirstCome, days=days, road=Road(lambda a, b: 0)).run()


def interval(seed: int) -> tuple[float, float]:
    """The 95 % interval of the mean wait of one run, by means of batches after a warm-up as long as one."""
    log = single_server(seed, customers=(BATCHES + 1) * OF_EACH, apart=2 * HOUR, takes=HOUR)
    waits = [seen.arrive_s - log.callers[seen.job] for seen in sorted(log.seen, key=lambda seen: seen.job)]
    means = [statistics.fmean(waits[n * OF_EACH : (n + 1) * OF_EACH]) for n in range(1, BATCHES + 1)]
    half = T_19 * statistics.stdev(means) / math.sqrt(BATCHES)
    return statistics.fmean(means) - half, statistics.fmean(means) + half


# rho = 1/2: Wq = (1/2) / (1/HOUR - 1/(2 HOUR)) = one HOUR.
FORMULA = HOUR


def test_a_single_server_waits_as_the_formula_says() -> None:
    """One seed of the twenty below; a 95 % interval misses one time in twenty, as that of seed 1 does."""
    low, high = interval(2)
    assert low < FORMULA < high
    assert high - low < HOUR / 2, "the interval is too wide to say anything"


@pytest.mark.long
def test_seventeen_of_twenty_seeds_lie_inside_their_interval() -> None:
    inside = [low < FORMULA < high for low, high in map(interval, range(1, 21))]
    assert sum(inside) >= 17, inside
