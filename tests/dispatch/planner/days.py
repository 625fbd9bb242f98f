"""Made-up days for the planner's tests: ordinary ones, and tiny ones small enough to try every possibility."""

from __future__ import annotations

from random import Random

from hypothesis import strategies as st

from dispatch.planner.construct import greedy
from dispatch.planner.finish import finished
from dispatch.planner.frame import frame_of
from dispatch.planner.plan import Plan, Search
from dispatch.planner.problem import Begun, Break, Crew, Place, Prices, Problem, Stock, Travel, UnderWay, Visit, build

SHIFT_FROM_S, SHIFT_UNTIL_S, AT_LATEST_S = 25_200, 61_200, 68_400


def random_day(rng: Random, visits: int = 8, crews: int = 3, *, running: bool | None = None) -> Problem:
    """
    A day with every rule of the port in play.

    :param running: whether ``now`` lies inside the day, with begun visits and crews under way; null = either.
    """
    places = [Place(id=f"p{i}", lat=45 + rng.random() / 2, lon=-122 - rng.random() / 2) for i in range(visits + 2)]
    now_s = 30_000 if (rng.random() < 0.4 if running is None else running) else 0
    names = [f"v{i}" for i in range(visits)]
    crew_names = [f"c{i}" for i in range(crews)]
    free = rng.sample(names, len(names))
    return build(
        [_crew(rng, name, now_s, free) for name in crew_names],
        [_visit(rng, name, len(places), crew_names) for name in names],
        places,
        now_s=now_s,
        prices=Prices(per_meter=rng.choice([0, 1]), per_driving_second=2, per_overtime_second=rng.choice([0, 3])),
        stock=(Stock(place="p0", have={"mover": 6}, load_s=900), Stock(place="p1", have={"mover": 2}, load_s=300)),
        travel=_rough_travel(rng, len(places)) if rng.random() < 0.3 else None,
    )


def _visit(rng: Random, name: str, places: int, crews: list[str]) -> Visit:
    window = None
    if rng.random() < 0.6:
        early_s = rng.randrange(25_000, 55_000)
        window = (early_s, early_s + rng.choice([0, 1_800, 7_200, 12_000]))
    return Visit(
        id=name,
        place=f"p{rng.randrange(places)}",
        service_s=rng.choice([0, 1_800, 2_400, 7_200]),
        window_s=window,
        due_s=rng.choice([None, rng.randrange(25_000, 50_000)]),
        per_late_second=rng.choice([0, 1, 5]),
        skills=rng.choice([(), ("mould",)]),
        state=rng.choice([None, "OR", "WA"]),
        deliver=rng.choice([{}, {"mover": rng.randrange(4)}]),
        collect=rng.choice([{}, {"mover": rng.randrange(4)}]),
        skip=rng.choice([None, 20_000, 120_000]),
        only=rng.choice([None, None, None, (rng.choice(crews),)]) if crews else None,
        prefer=rng.choice([{}, {"*": 300}, {crews[0]: 0, "*": 900}]) if crews else {},
        promised_s=rng.choice([None, rng.randrange(25_000, 60_000)]),
        per_moved_second=rng.choice([0, 1, 3]),
    )


def _crew(rng: Random, name: str, now_s: int, free: list[str]) -> Crew:
    begun: list[Begun] = []
    at_s = SHIFT_FROM_S
    while now_s and free and rng.random() < 0.6:
        start_s = at_s + rng.randrange(2_000)
        if start_s > now_s:
            break
        at_s = start_s + rng.randrange(500, 3_000)
        begun.append(Begun(visit=free.pop(), start_s=start_s, leave_s=at_s))
    under_way = None
    if now_s and at_s <= now_s and free and rng.random() < 0.4:
        under_way = UnderWay(to=free.pop(), left_s=rng.randrange(at_s, now_s + 1))
    taken_s = now_s - rng.randrange(4_000)
    return Crew(
        id=name,
        start="p0",
        end=rng.choice(["p0", "p1", None]),
        from_s=SHIFT_FROM_S,
        until_s=rng.choice([50_000, SHIFT_UNTIL_S]),
        at_latest_s=AT_LATEST_S,
        skills=rng.choice([(), ("mould",), ("mould", "asbestos")]),
        states=rng.choice([("OR",), ("OR", "WA")]),
        capacity=rng.choice([{"mover": 6}, {"mover": 10}, {}]),
        fixed=rng.choice([0, 500]),
        break_rule=rng.choice([None, _break(39_000), _break(52_200)]),
        driving_limit_s=rng.choice([None, None, 9_000]),
        aboard=rng.choice([None, {}, {"mover": 4}]),
        break_taken=(taken_s, taken_s + 1_800) if now_s and rng.random() < 0.3 else None,
        under_way=under_way,
        begun=tuple(begun),
    )


def _break(until_s: int) -> Break:
    return Break(seconds=1_800, from_s=37_800, until_s=until_s)


def _rough_travel(rng: Random, n: int) -> Travel:
    """Asymmetric, and without the triangle rule."""
    seconds = tuple(tuple(0 if i == k else rng.randrange(60, 4_000) for k in range(n)) for i in range(n))
    meters = tuple(tuple(0 if i == k else rng.randrange(500, 60_000) for k in range(n)) for i in range(n))
    return Travel(seconds=seconds, meters=meters)


def tiny_day(rng: Random, visits: int = 2) -> Problem:
    """One crew and a clock of a dozen ticks, so that every start and every break can be tried."""
    places = [Place(id=f"p{i}", lat=45, lon=-122) for i in range(visits + 1)]
    ticks = tuple(tuple(rng.randrange(3) for _ in places) for _ in places)
    now_s = rng.choice([0, 0, 3])
    free = [f"v{i}" for i in range(visits)]
    begun: tuple[Begun, ...] = ()
    if now_s and rng.random() < 0.5:
        start_s = rng.randrange(now_s + 1)
        begun = (Begun(visit=free.pop(), start_s=start_s, leave_s=start_s + rng.randrange(3)),)
    free_s = begun[0].leave_s if begun else 0
    under_way = None
    if now_s >= free_s and now_s and rng.random() < 0.4:
        under_way = UnderWay(to=free.pop(), left_s=rng.randrange(free_s, now_s + 1))
    taken_s = rng.randrange(now_s + 1)
    crew = Crew(
        id="c",
        start="p0",
        end=rng.choice(["p0", None]),
        from_s=rng.choice([0, 1]),
        until_s=rng.choice([4, 8]),
        at_latest_s=rng.choice([9, 11]),
        fixed=5,
        break_rule=rng.choice([None, _tiny_break(rng), _tiny_break(rng)]),
        driving_limit_s=rng.choice([None, None, 3]),
        break_taken=(taken_s, taken_s + rng.randrange(1, 3)) if now_s and rng.random() < 0.3 else None,
        under_way=under_way,
        begun=begun,
    )
    return build(
        [crew],
        [_tiny_visit(rng, i) for i in range(visits)],
        places,
        now_s=now_s,
        prices=Prices(per_meter=1, per_driving_second=2, per_overtime_second=rng.choice([0, 3])),
        travel=Travel(seconds=ticks, meters=ticks),
    )


def _tiny_break(rng: Random) -> Break:
    from_s = rng.randrange(6)
    return Break(seconds=rng.randrange(1, 3), from_s=from_s, until_s=from_s + rng.randrange(3))


def _tiny_visit(rng: Random, i: int) -> Visit:
    early_s = rng.randrange(8)
    return Visit(
        id=f"v{i}",
        place=f"p{i + 1}",
        service_s=rng.randrange(3),
        window_s=rng.choice([None, (early_s, early_s + rng.randrange(4))]),
        due_s=rng.choice([None, rng.randrange(9)]),
        per_late_second=rng.choice([0, 1, 5]),
        skip=rng.choice([None, 20]),
        promised_s=rng.choice([None, rng.randrange(10)]),
        per_moved_second=rng.choice([0, 1, 4]),
    )


def planned(problem: Problem) -> Plan:
    """The greedy plan of a day: sound, quickly made, and the same whatever the search learns to do."""
    frame = frame_of(problem)
    return finished(frame, greedy(frame), Search())


def random_days(visits: int = 8, crews: int = 3, running: bool | None = None) -> st.SearchStrategy[Problem]:
    return st.builds(
        lambda rng, n, m: random_day(rng, n, m, running=running),
        st.randoms(use_true_random=False),
        st.integers(0, visits),
        st.integers(0, crews),
    )


def tiny_days(visits: int = 2) -> st.SearchStrategy[Problem]:
    return st.builds(lambda rng: tiny_day(rng, visits), st.randoms(use_true_random=False))
