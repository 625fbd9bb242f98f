"""A small company and callers of its own, for tests that need neither tables nor the demo."""

from dispatch.planner.problem import Place
from dispatch.rehearsal.sim.demand import Demand, Event, Timing, Town, Variant
from dispatch.rehearsal.sim.facts import Company, Depot, Figures, Shift

HOUR = 3600
HOME = Place(id="home", lat=45.60, lon=-122.60)
FIGURES = Figures(
    break_s=1800,
    rest_s=10 * HOUR,
    clean_s=6 * HOUR,
    prices={"per_meter": 0, "per_driving_second": 100, "per_overtime_second": 200},
    per_late_second=100,
    left_out=10_000_000,
    plan_iterations=40,
)


def company(*, crews: int = 3, movers: int = 40) -> Company:
    """Day crews and one at night, all from one warehouse."""
    able = frozenset({"water"})
    day = [
        Shift(
            crew=f"D{number}",
            people=(f"lead {number}",),
            vehicle=f"van {number}",
            home="home",
            from_s=7 * HOUR,
            until_s=16 * HOUR,
            at_latest_s=20 * HOUR,
            skills=able,
            states=frozenset({"OR"}),
            capacity={"air_mover": 16, "lgr": 2},
            standing={"air_mover": 6, "lgr": 1},
        )
        for number in range(1, crews + 1)
    ]
    night = Shift(
        crew="N1",
        people=("owl",),
        vehicle="night van",
        home="home",
        from_s=18 * HOUR,
        until_s=30 * HOUR,
        at_latest_s=32 * HOUR,
        skills=able,
        states=frozenset({"OR"}),
        capacity={"air_mover": 16, "lgr": 2},
        standing={"air_mover": 6, "lgr": 1},
    )
    return Company((Depot(HOME, {"air_mover": movers, "lgr": 8}, 600),), (*day, night))


def demand(*, calls_a_month: float = 60) -> Demand:
    """One town, one payer, one loss of one or two rooms, and a storm."""
    sizes = tuple(
        Variant("pipe", rooms, 1, {"air_mover": 3 * rooms, "lgr": 1}, (2, 3, 5), {"OR": ("water",)}, 2 * HOUR, 1800)
        for rooms in (1, 2)
    )
    return Demand(
        calls_a_month=calls_a_month,
        hours=(1,) * 24,
        months=(1,) * 12,
        weekdays=(1,) * 7,
        losses={"pipe": 1},
        variants={"pipe": sizes},
        towns=(Town("Portland", "OR", 45.52, -122.64, 4, 1),),
        payers={"heron": (1, 4 * HOUR)},
        timing=Timing(0.7, 8 * HOUR, 12 * HOUR, 0.3, 0.2),
        events={"freeze": Event("freeze", (4, 8, 5), {"pipe": 1}, (1,) * 24, frozenset({1}), 0.5)},
    )
