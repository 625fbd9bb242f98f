"""What a rehearsal is about: places, crews, jobs, and the figures it works with; all frozen."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from dispatch.planner.problem import Place

DAY_S = 24 * 3600
Units = Mapping[str, int]
"""Machines by kind."""


@dataclass(frozen=True)
class Depot:
    """A warehouse: where it is, what stands ready there at the beginning, and how long loading takes."""

    place: Place
    ready: Units
    load_s: int


@dataclass(frozen=True)
class Shift:
    """
    One crew's shift, the same every day that it works; ``until_s`` of a night shift is beyond ``DAY_S``.

    ``standing`` is what its vehicle should carry when it leaves.
    """

    crew: str
    people: tuple[str, ...]
    vehicle: str
    home: str
    from_s: int
    until_s: int
    at_latest_s: int
    skills: frozenset[str]
    states: frozenset[str]
    capacity: Units
    standing: Units = field(default_factory=dict)
    weekends: bool = True

    def on(self, day: int, weekday: int) -> bool:
        """Whether it works on a day, Monday being weekday 0."""
        return self.weekends or weekday < 5


@dataclass(frozen=True)
class Company:
    """``aboard``: what each vehicle carries at the beginning."""

    depots: tuple[Depot, ...]
    shifts: tuple[Shift, ...]
    aboard: Mapping[str, Units] = field(default_factory=dict)


@dataclass(frozen=True)
class Figures:
    """
    What the company has set, in seconds and in the planner's prices; where each comes from stands in its rule files.

    ``slow_share``: how fast a job dries with none of the machines it needs, as a share of the speed with all.
    """

    break_s: int = 0
    break_from_s: int = 4 * 3600
    break_until_s: int = 6 * 3600
    rest_s: int = 0
    clean_s: int = 0
    visits_from_s: int = 8 * 3600
    visits_until_s: int = DAY_S
    too_far_s: int = 6 * 3600
    slow_share: float = 0.3
    prices: Mapping[str, int] = field(
        default_factory=lambda: {"per_meter": 0, "per_driving_second": 1, "per_overtime_second": 1}
    )
    crew_out: int = 0
    per_late_second: int = 1
    per_moved_second: int = 0
    left_out: int = 1_000_000
    plan_iterations: int = 400


@dataclass(frozen=True)
class Job:
    """
    One loss with all that chance decides about it.

    ``due_s``: the promised arrival. ``not_before_s``: when the caller lets us in at the earliest. ``expected_s`` is
    what the desk plans for the first visit, ``first_s`` what it takes; ``visits_s`` the later visits, used in turn.
    ``dry_days``: how long it dries with all the machines it needs; 0 for a job that is done at the first visit.
    """

    number: int
    called_s: int
    place: Place
    due_s: int
    first_s: int
    expected_s: int
    not_before_s: int = 0
    state: str = ""
    skills: tuple[str, ...] = ()
    need: Units = field(default_factory=dict)
    dry_days: float = 0.0
    visits_s: tuple[int, ...] = (2400,)
    urgent: bool = True
    loss: str = ""
    rooms: int = 1
    town: str = ""
    payer: str = ""


FIRST, MONITOR, PICK_UP, OTHER = "first", "monitoring", "pick_up", "other"


@dataclass(eq=False)
class Task:
    """One visit that is to be made. ``open_s`` is the earliest start, ``due_s`` the promise."""

    id: str
    job: Job
    kind: str
    open_s: int
    due_s: int
    expected_s: int
    takes_s: int
    deliver: dict[str, int] = field(default_factory=dict)
    collect: dict[str, int] = field(default_factory=dict)

    @property
    def urgent(self) -> bool:
        return self.kind == FIRST and self.job.urgent


@dataclass(frozen=True)
class Fetch:
    """A stop at a warehouse on the way to a visit, to load what is missing."""

    depot: str
    take: Units


@dataclass(frozen=True)
class Order:
    """What a crew does next: the visit, when to leave for it, and what to load on the way."""

    task: Task
    leave_s: int
    fetch: Fetch | None = None
