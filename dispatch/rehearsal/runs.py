"""The runs of one fleet: every rule on the same callers, seed by seed."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import partial
from pathlib import Path
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from dispatch.demo.folder import DemoFolder
from dispatch.imports.company import import_company
from dispatch.rehearsal import company
from dispatch.rehearsal.fleets import spread, with_fleet, with_rota
from dispatch.rehearsal.program import Program
from dispatch.rehearsal.program_machines import ProgramMachines
from dispatch.rehearsal.setting import Setting, demand_of, figures_of, read_setting
from dispatch.rehearsal.sim.demand import Demand, Storm, chance_storms, draw
from dispatch.rehearsal.sim.desk import Desk
from dispatch.rehearsal.sim.facts import Company, Figures
from dispatch.rehearsal.sim.measures import Measures, Window, measured
from dispatch.rehearsal.sim.ours import Ours
from dispatch.rehearsal.sim.queues import FirstCome, Nearest
from dispatch.rehearsal.sim.world import World
from equipment import own_catalogue
from jobs import due_work
from jobs.models import Area
from jobs.people import system_user

REHEARSAL = UUID("6f6d5a2e-2b0b-5b0e-8f59-9b1f2d8c7a11")
RULES: Mapping[str, Callable[[World], Desk]] = {"ours": Ours, "nearest": Nearest, "first-come": FirstCome}
# The program itself, through its use cases; every run wants an empty database.
PROGRAM = "program"
# Days before those that are measured, in which the company fills, and after them, in which it catches up.
BEFORE, AFTER, AFTER_STORM = 3, 1, 2
ONE_DAY = timedelta(days=1)
ITERATIONS = 300
# More than any loss could want.
MOST_OF_A_MODEL = 999
Tell = Callable[[str, int], None]


@dataclass(frozen=True)
class Asked:
    """What is to be rehearsed. `storm`: the event that begins on the first measured day; else as chance has it."""

    company: Path
    start: date
    days: int
    storm: str | None
    seeds: tuple[int, ...]
    rules: tuple[str, ...]
    iterations: int = ITERATIONS

    @property
    def whole(self) -> int:
        """Days that are run, those around the measured ones included."""
        return BEFORE + self.days + (AFTER_STORM if self.storm else AFTER)

    @property
    def window(self) -> Window:
        return Window.of_days(BEFORE, self.days, self.whole)


@dataclass(frozen=True)
class Stage:
    """A company that is ready to be rehearsed."""

    company: Company
    demand: Demand
    figures: Figures


@dataclass(frozen=True)
class Run:
    """One run, in figures."""

    fleet: str
    rule: str
    seed: int
    measures: Measures


def import_for(asked: Asked, setting: Setting, fleet: str, *, every_day: bool = False) -> Area:
    """The company with this fleet in the tables, which are empty; with the crews of its first day, or of every day."""
    sheets = with_fleet(DemoFolder.read(asked.company).company, setting, fleet)
    if every_day:
        share = setting.trade["work"]["weekend_share"]
        works = partial(_works, start=asked.start, share=share)
        sheets = with_rota(sheets, days=asked.whole, works=works)
    areas = next(sheet for sheet in sheets if sheet.name == "areas")
    code = areas.rows[0].cells["code"]
    opened = _midnight(asked, ZoneInfo(areas.rows[0].cells["time_zone"]))
    import_company(key=REHEARSAL, actor=system_user(), now=opened, sheets=sheets, today=asked.start)
    return Area.objects.get(code=code)


def stage(asked: Asked, setting: Setting, area: Area) -> Stage:
    """The company and its callers, read from the tables."""
    return Stage(
        company.company_of(area, asked.start, weekend_share=setting.trade["work"]["weekend_share"]),
        demand_of(
            setting,
            catalogue=own_catalogue.plenty(MOST_OF_A_MODEL),
            arrival_minutes=company.arrival_minutes(asked.start),
        ),
        figures_of(setting, iterations=asked.iterations),
    )


def storms_of(asked: Asked, demand: Demand, seed: int) -> tuple[Storm, ...]:
    """The storm that was asked for, or those that chance brings."""
    if asked.storm:
        return (Storm(asked.storm, BEFORE),)
    return chance_storms(demand, seed=seed, start=asked.start, days=asked.whole)


def run(asked: Asked, ready: Stage, *, fleet: str, rule: str, seed: int, tell: Tell | None = None) -> Run:
    """One run of one rule; the same seed gives every rule the same callers."""
    jobs = draw(
        ready.demand,
        seed=seed,
        start=asked.start,
        days=asked.whole,
        storms=storms_of(asked, ready.demand, seed),
    )
    world = World(
        ready.company,
        jobs,
        RULES[rule],
        days=asked.whole,
        figures=ready.figures,
        weekday=asked.start.weekday(),
        on_day=lambda day: tell(f"{fleet}, {rule}, seed {seed}", day) if tell else None,
    )
    return Run(fleet, rule, seed, measured(world.run(), jobs, asked.window))


def run_program(asked: Asked, fleet: str, seed: int, tell: Tell | None = None) -> Run:
    """One run through the program's own use cases, on a database that is empty."""
    setting = read_setting(asked.company)
    area = import_for(asked, setting, fleet, every_day=True)
    due_work.ensure_standing(now=_midnight(asked, area.zone))
    ready = stage(asked, setting, area)
    storms = storms_of(asked, ready.demand, seed)
    jobs = draw(ready.demand, seed=seed, start=asked.start, days=asked.whole, storms=storms)
    machines = ProgramMachines(ready.company, area=area)
    midnight = _midnight(asked, area.zone)
    towns = {town["name"]: town for town in setting.own["towns"]}
    world = World(
        ready.company,
        jobs,
        lambda world: Program(world, area=area, midnight=midnight, towns=towns),
        days=asked.whole,
        figures=ready.figures,
        weekday=asked.start.weekday(),
        machines=machines,
        on_day=lambda day: tell(f"{fleet}, {PROGRAM}, seed {seed}", day) if tell else None,
    )
    machines.now_of = lambda: midnight + timedelta(seconds=world.now_s)
    return Run(fleet, PROGRAM, seed, measured(world.run(), jobs, asked.window))


def all_runs(asked: Asked, fleet: str, tell: Tell | None = None) -> list[Run]:
    """Every rule and seed for one fleet, on a database of its own that is empty; `PROGRAM` for one seed alone."""
    if asked.rules == (PROGRAM,):
        return [run_program(asked, fleet, seed, tell) for seed in asked.seeds]
    setting = read_setting(asked.company)
    ready = stage(asked, setting, import_for(asked, setting, fleet))
    return [
        run(asked, ready, fleet=fleet, rule=rule, seed=seed, tell=tell) for seed in asked.seeds for rule in asked.rules
    ]


def as_document(one: Run) -> dict[str, Any]:
    """A run as the result has it: its figures, and what the plots are made of."""
    return {
        "fleet": one.fleet,
        "rule": one.rule,
        "seed": one.seed,
        **one.measures.as_document(),
        "short_by_kind": dict(one.measures.units_short),
        "arrivals_min": list(one.measures.arrivals_min),
        "days_to_dry": list(one.measures.days_to_dry),
        "waiting_by_hour": list(one.measures.waiting_by_hour),
    }


def _midnight(asked: Asked, zone: ZoneInfo) -> datetime:
    return datetime.combine(asked.start, datetime.min.time(), tzinfo=zone)


def _works(number: int, day: int, *, start: date, share: float) -> bool:
    """Whether the day crew of this number works on that day."""
    return (start.weekday() + day) % 7 < 5 or spread(number, share)
