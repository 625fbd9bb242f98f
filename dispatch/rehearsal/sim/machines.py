"""The machines of a rehearsal: loaded, fetched, placed, taken up, brought home and cleaned; and what they dry."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

from dispatch.rehearsal.sim.facts import DAY_S, Company, Fetch, Job, Shift, Task, Units
from dispatch.rehearsal.sim.stock import Stock, part, rest


@dataclass
class Drying:
    """How far one job has dried: with all machines a day a day, with fewer slower."""

    job: Job
    slow_share: float
    since_s: int
    first_s: int
    placed: Counter[str] = field(default_factory=Counter)
    days_done: float = 0.0

    def place(self, units: Units, now_s: int) -> None:
        """More machines from now on."""
        self.days_done, self.since_s = self.done_by(now_s), now_s
        self.placed.update(units)

    def done_by(self, now_s: int) -> float:
        """Of the days that it takes with all machines, how many are over."""
        wanted = sum(self.job.need.values())
        share = min(1.0, sum(part(self.job.need, self.placed).values()) / wanted) if wanted else 1.0
        speed = self.slow_share + (1 - self.slow_share) * share
        return self.days_done + speed * (now_s - self.since_s) / DAY_S

    def dry_at(self, now_s: int) -> bool:
        """What a reading now would say."""
        return self.done_by(now_s) >= self.job.dry_days


@dataclass(eq=False)
class Load:
    """What one vehicle carries: ready machines, and those taken up that are not cleaned yet."""

    ready: Counter[str] = field(default_factory=Counter)
    dirty: Counter[str] = field(default_factory=Counter)

    def room(self, capacity: Units) -> dict[str, int]:
        """How many more of each kind it takes."""
        carried = self.ready + self.dirty
        return {kind: max(0, count - carried[kind]) for kind, count in capacity.items()}


class Machines:
    """The books of all machines by kind; nothing is made or lost."""

    def __init__(self, company: Company) -> None:
        self.stock = Stock(company.depots)
        self.loads = {vehicle: Load(Counter(units)) for vehicle, units in company.aboard.items()}
        self.placed: dict[int, Counter[str]] = {}

    def of(self, shift: Shift) -> Load:
        """What the shift's vehicle carries."""
        return self.loads.setdefault(shift.vehicle, Load())

    def load(self, shift: Shift, ordered: Units) -> None:
        """Before a crew leaves: up to its standing stock, and what its visits of the day are to bring."""
        load = self.of(shift)
        wanted = rest(Counter(shift.standing) + Counter(ordered), load.ready)
        load.ready.update(self.stock.take(shift.home, part(wanted, load.room(shift.capacity))))

    def fetch(self, shift: Shift, fetch: Fetch) -> None:
        """Load on the way what the warehouse still has."""
        load = self.of(shift)
        load.ready.update(self.stock.take(fetch.depot, part(fetch.take, load.room(shift.capacity))))

    def place(self, shift: Shift, task: Task) -> dict[str, int]:
        """Leave at the job what it is to get and the vehicle has."""
        load = self.of(shift)
        got = part(task.deliver, load.ready)
        load.ready.subtract(got)
        self.placed.setdefault(task.job.number, Counter()).update(got)
        return got

    def take_up(self, shift: Shift, task: Task) -> dict[str, int]:
        """Take up what fits; what is left at the job."""
        load = self.of(shift)
        there = self.placed[task.job.number]
        got = part(there, load.room(shift.capacity))
        there.subtract(got)
        load.dirty.update(got)
        return {kind: count for kind, count in there.items() if count > 0}

    def bring_home(self, shift: Shift) -> dict[str, int]:
        """The dirty machines come off the vehicle; they are ready once ``cleaned``."""
        load = self.of(shift)
        units, load.dirty = dict(load.dirty), Counter()
        return units

    def cleaned(self, depot: str, units: Units) -> None:
        """They are ready at that warehouse."""
        self.stock.put(depot, units)

    def total(self) -> Counter[str]:
        """All machines, wherever they are but in the wash; for a check that none is made or lost."""
        every: Counter[str] = Counter()
        for ready in (*self.stock.ready.values(), *self.placed.values()):
            every.update(ready)
        for load in self.loads.values():
            every.update(load.ready + load.dirty)
        return +every
