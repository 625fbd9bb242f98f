"""Comparing both journals, replayed from their entries alone, with the current rows. Every difference is named."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import TypeVar

from equipment.stock.replay import EntryFact, MoveFact, UnitState, effective, pool_of, promise_state, unit_state
from equipment.stock.seal import Value, seal

PoolKey = tuple[int, int]
Fact = TypeVar("Fact", MoveFact, EntryFact)


@dataclass(frozen=True)
class Difference:
    """`what` (unit, promise, pool) `which`: the row says `row`, the entries say `replayed`, in the field `where`."""

    what: str
    which: int | PoolKey
    where: str
    row: object
    replayed: object


@dataclass(frozen=True)
class Sealed:
    """What a seal covers, the seal itself, and what the record said when the entry was written."""

    values: tuple[Value, ...]
    seal: str
    from_holder: int | None = None


@dataclass(frozen=True)
class UnitRow:
    """One unit's current-state row."""

    unit: int
    model: int
    state: UnitState
    pool: PoolKey | None
    seal: str


@dataclass(frozen=True)
class PromiseRow:
    """One promise's current-state row."""

    promise: int
    pool: PoolKey
    state: str
    quantity: int
    drawn: int
    starts_at: datetime
    ends_at: datetime
    keep_until: datetime | None
    seal: str


@dataclass(frozen=True)
class Books:
    """Both journals and every current row."""

    moves: tuple[MoveFact, ...]
    entries: tuple[EntryFact, ...]
    units: Mapping[int, UnitRow]
    promises: Mapping[int, PromiseRow]
    stock: Mapping[PoolKey, int]
    holder_kinds: Mapping[int, str]
    seals: Mapping[tuple[str, int], Sealed] = field(default_factory=dict)


@dataclass(frozen=True)
class Replayed:
    """One unit as its entries leave it, and the stock row in which it then counts."""

    state: UnitState
    pool: PoolKey | None


def differences(books: Books) -> tuple[Difference, ...]:
    """Every difference between rows and entries, units first, then promises, then stock."""
    moves, pools = _by(books.moves, "unit"), {promise: row.pool for promise, row in books.promises.items()}
    states = {unit: unit_state(facts) for unit, facts in moves.items()}
    now = {
        unit: Replayed(state, _pool(state, books.units[unit].model, books, pools) if unit in books.units else None)
        for unit, state in states.items()
        if state is not None
    }
    return (*_units(books, moves, now), *_promises(books, now), *_stock(books, now))


def _by(facts: Iterable[Fact], thing: str) -> dict[int, list[Fact]]:
    found: dict[int, list[Fact]] = defaultdict(list)
    for fact in sorted(facts, key=lambda f: f.id):
        found[getattr(fact, thing)].append(fact)
    return found


def _chain(what: str, which: int, facts: Iterable[Fact], row_seal: str, books: Books) -> Iterator[Difference]:
    """The first broken seal of one thing's entries; what follows a break cannot be judged."""
    previous = ""
    for fact in facts:
        sealed = books.seals.get((what, fact.id))
        if sealed is None:
            continue
        right = seal(previous, sealed.values)
        if sealed.seal != right:
            yield Difference(what, which, f"entry {fact.id}: changed, or one before it is missing", sealed.seal, right)
            return
        previous = right
    if books.seals and previous != row_seal:
        yield Difference(what, which, "last entry: missing or not the row's", row_seal, previous)


def _units(books: Books, moves: dict[int, list[MoveFact]], now: dict[int, Replayed]) -> Iterator[Difference]:
    for unit in sorted(set(moves) | set(books.units)):
        row, facts = books.units.get(unit), moves.get(unit, [])
        if row is None:
            yield Difference("unit", unit, "row", None, now[unit].state if unit in now else None)
            continue
        yield from _chain("unit", unit, facts, row.seal, books)
        yield from _handed_over(unit, facts, books)
        replayed = now.get(unit)
        if replayed is None:
            yield Difference("unit", unit, "entries", row.state, None)
            continue
        for name in ("holder", "room_name", "condition", "reservation", "water_category", "since"):
            said, should = getattr(row.state, name), getattr(replayed.state, name)
            if said != should:
                yield Difference("unit", unit, name, said, should)
        if replayed.pool != row.pool:
            yield Difference("unit", unit, "pool", row.pool, replayed.pool)


def _handed_over(unit: int, facts: list[MoveFact], books: Books) -> Iterator[Difference]:
    """Double entry: each entry takes the unit from where the entries written before it had left it."""
    latest: MoveFact | None = None
    for position, fact in enumerate(facts):
        sealed = books.seals.get(("unit", fact.id))
        holder = latest.holder if latest is not None else None
        if latest is None and sealed is not None and books.holder_kinds.get(sealed.from_holder or 0) == "supplier":
            # A rented unit enters from its supplier; before that we know nothing of it.
            holder = sealed.from_holder
        if sealed is not None and sealed.from_holder != holder:
            yield Difference("unit", unit, f"entry {fact.id}: taken from", sealed.from_holder, holder)
        if fact.corrects is not None or (latest is not None and fact.happened_at < latest.happened_at):
            latest = effective(facts[: position + 1])[-1]
        else:
            latest = fact


def _pool(state: UnitState, model: int, books: Books, pools: dict[int, PoolKey]) -> PoolKey | None:
    if state.reservation is not None and state.reservation not in pools:
        return None
    return pool_of(state, model=model, holder_kinds=books.holder_kinds, reservation_pools=pools)


def _promises(books: Books, now: dict[int, Replayed]) -> Iterator[Difference]:
    entries = _by(books.entries, "reservation")
    out = Counter(unit.state.reservation for unit in now.values())
    for promise in sorted(set(entries) | set(books.promises)):
        row, facts = books.promises.get(promise), entries.get(promise, [])
        replayed = promise_state(facts)
        if row is None or replayed is None:
            yield Difference("promise", promise, "row" if row is None else "entries", row, replayed)
            continue
        yield from _chain("promise", promise, facts, row.seal, books)
        for name in ("state", "quantity", "drawn", "starts_at", "ends_at", "keep_until"):
            said, should = getattr(row, name), getattr(replayed, name)
            if said != should:
                yield Difference("promise", promise, name, said, should)
        if replayed.drawn != out[promise]:
            yield Difference("promise", promise, "units out", replayed.drawn, out[promise])


def _stock(books: Books, now: dict[int, Replayed]) -> Iterator[Difference]:
    counted = Counter(unit.pool for unit in now.values() if unit.pool is not None)
    for pool in sorted(set(counted) | set(books.stock)):
        if books.stock.get(pool, 0) != counted[pool]:
            yield Difference("pool", pool, "stock", books.stock.get(pool, 0), counted[pool])
