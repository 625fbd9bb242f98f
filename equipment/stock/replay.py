"""
What both journals say when they are read from their entries alone.

Custody: an entry that is corrected counts no more. Of the others the last by `happened_at`, then by id, says where
the unit is; when an entry was recorded plays no part, so late and repeated uploads settle into the true order.
Reservations: entries are read by id; each carries the whole promise as it stands after it.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

WORKING = frozenset({"ready", "in_use"})
KEEPING = frozenset({"warehouse", "vehicle"})
TERMINAL = {"release": "released", "expire": "expired", "close": "closed"}


@dataclass(frozen=True)
class MoveFact:
    """One custody entry."""

    id: int
    unit: int
    holder: int
    room_name: str
    condition: str
    reservation: int | None
    water_category: int | None
    happened_at: datetime
    corrects: int | None = None


@dataclass(frozen=True)
class UnitState:
    """Where one unit is and how."""

    holder: int
    room_name: str
    condition: str
    reservation: int | None
    water_category: int | None
    since: datetime


@dataclass(frozen=True)
class EntryFact:
    """One entry of the reservations' journal."""

    id: int
    reservation: int
    kind: str
    quantity: int
    drawn: int
    starts_at: datetime
    ends_at: datetime
    keep_until: datetime | None


@dataclass(frozen=True)
class PromiseState:
    """One promise as it stands."""

    state: str
    quantity: int
    drawn: int
    starts_at: datetime
    ends_at: datetime
    keep_until: datetime | None


def effective(moves: Iterable[MoveFact]) -> tuple[MoveFact, ...]:
    """The entries that count, in the order in which they happened."""
    known = tuple(moves)
    corrected = {move.corrects for move in known if move.corrects is not None}
    return tuple(sorted((move for move in known if move.id not in corrected), key=lambda m: (m.happened_at, m.id)))


def unit_state(moves: Iterable[MoveFact]) -> UnitState | None:
    """Where the entries of one unit leave it; None without entries."""
    counting = effective(moves)
    if not counting:
        return None
    last = counting[-1]
    return UnitState(
        last.holder, last.room_name, last.condition, last.reservation, last.water_category, last.happened_at
    )


def pool_of(
    state: UnitState, *, model: int, holder_kinds: Mapping[int, str], reservation_pools: Mapping[int, tuple[int, int]]
) -> tuple[int, int] | None:
    """
    The pool (model, place) in whose stock the unit counts; None: in no stock.

    Out on a reservation it counts where it was drawn from; otherwise only where it stands ready.
    """
    if state.condition not in WORKING:
        return None
    if state.reservation is not None:
        return reservation_pools[state.reservation]
    if state.condition == "ready" and holder_kinds[state.holder] in KEEPING:
        return model, state.holder
    return None


def promise_state(entries: Iterable[EntryFact]) -> PromiseState | None:
    """How the entries of one promise leave it; None without entries."""
    state = ""
    last: EntryFact | None = None
    for entry in sorted(entries, key=lambda e: e.id):
        if entry.kind in TERMINAL:
            state = TERMINAL[entry.kind]
        elif entry.kind == "hold":
            state = "held"
        elif entry.kind == "confirm" or not state:
            # A promise that begins with a fact (a unit that was simply taken) needs nobody's word.
            state = "confirmed"
        last = entry
    if last is None:
        return None
    return PromiseState(state, last.quantity, last.drawn, last.starts_at, last.ends_at, last.keep_until)
