"""
An independent picture of both ledgers, kept with plain dictionaries and whole hours, to compare the real ones with.

It knows the rules only as they are told to people: where a unit counts, what a promise takes, what coming back means.
"""

from dataclasses import dataclass, field

FOREVER = 96  # hours that equipment stays when nobody has said


@dataclass
class PlainUnit:
    place: str
    condition: str
    pool: str | None
    out_on: tuple[str, str] | None = None  # (pool, job)


@dataclass
class PlainPromise:
    quantity: int
    drawn: int
    start: int
    end: int


@dataclass
class PlainBooks:
    """Units by number and live promises by (pool, job)."""

    units: dict[str, PlainUnit]
    categories: dict[str, int]
    promises: dict[tuple[str, str], PlainPromise] = field(default_factory=dict)

    def stock(self, pool: str) -> int:
        return sum(unit.pool == pool for unit in self.units.values())

    def free(self, pool: str, start: int, end: int) -> int:
        """Hour by hour."""
        mine = [promise for (where, _), promise in self.promises.items() if where == pool]
        most = max(sum(p.quantity for p in mine if p.start <= hour < p.end) for hour in range(start, end))
        return self.stock(pool) - most

    def hold(self, pool: str, job: str, quantity: int, start: int, end: int) -> bool:
        if self.free(pool, start, end) < quantity:
            return False
        self.promises[pool, job] = PlainPromise(quantity, 0, start, end)
        return True

    def release(self, pool: str, job: str) -> None:
        promise = self.promises[pool, job]
        promise.quantity = promise.drawn
        if not promise.drawn:
            del self.promises[pool, job]

    def load(self, number: str, van: str, job: str | None) -> None:
        unit = self.units[number]
        self._off(unit, used=False)
        unit.place = van
        if unit.condition == "ready":
            if job is None:
                unit.pool = van
            else:
                assert unit.pool is not None
                self._on(unit, job)

    def place(self, number: str, job: str) -> None:
        unit = self.units[number]
        if unit.out_on is None or unit.out_on[1] != job:
            self._off(unit, used=unit.condition == "in_use")
            if unit.pool is not None:
                self._on(unit, job)
        unit.place, unit.condition = job, "in_use"

    def take_up(self, number: str, job: str, van: str) -> None:
        unit = self.units[number]
        self._off(unit, used=True)
        unit.place, unit.pool = van, None
        unit.condition = "held_back" if self.categories[job] == 3 else "not_yet_cleaned"

    def bring_in(self, number: str, warehouse: str) -> None:
        unit = self.units[number]
        self._off(unit, used=False)
        unit.place = warehouse
        if unit.condition == "ready":
            unit.pool = warehouse

    def make_ready(self, number: str) -> None:
        unit = self.units[number]
        unit.condition, unit.pool = "ready", unit.place

    def break_down(self, number: str) -> None:
        unit = self.units[number]
        self._off(unit, used=unit.condition == "in_use")
        unit.condition, unit.pool = "broken", None

    def _on(self, unit: PlainUnit, job: str) -> None:
        assert unit.pool is not None
        ends = [p.end for (_, of), p in self.promises.items() if of == job]
        promise = self.promises.setdefault((unit.pool, job), PlainPromise(0, 0, 0, max(ends, default=FOREVER)))
        promise.drawn += 1
        promise.quantity = max(promise.quantity, promise.drawn)
        promise.start = 0
        unit.out_on = (unit.pool, job)

    def _off(self, unit: PlainUnit, *, used: bool) -> None:
        if unit.out_on is None:
            return
        promise = self.promises[unit.out_on]
        promise.drawn -= 1
        promise.quantity -= used
        if not promise.quantity:
            del self.promises[unit.out_on]
        unit.out_on = None
