"""One call that writes custody: who, when, and what is stored together when it ends."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from types import MappingProxyType
from uuid import UUID

from django.contrib.auth.models import User

from equipment.models import Holder, Pool, Reservation, UnitNow
from equipment.places import pool_for
from equipment.reservations import facts
from equipment.reservations.book import LIVE, Later
from jobs import rows
from jobs.models import Job

# What is sent within this time of its making was sent at once (ours: a page and a slow network take less).
RIGHT_AWAY = timedelta(minutes=5)


@dataclass(frozen=True)
class Write:
    """
    Who writes, when, under which key; `happened_at` is when the move was really made.

    One call moves many units on few promises: each promise is read once, under its pool's lock, and kept in step here.
    Whoever changes a promise within the call changes this row of it and no other.
    """

    key: UUID
    actor: User
    now: datetime
    happened_at: datetime
    pools: Mapping[int, Pool] = field(default_factory=dict, compare=False, repr=False)
    promises: dict[int, Reservation] = field(default_factory=dict, compare=False, repr=False)
    _chosen: dict[tuple[int, int], Reservation] = field(default_factory=dict, compare=False, repr=False)
    _left: "_Left" = field(default_factory=lambda: _Left(), compare=False, repr=False)

    @classmethod
    def of(
        cls,
        key: UUID,
        actor: User,
        now: datetime,
        happened_at: datetime | None,
        pools: Mapping[int, Pool] = MappingProxyType({}),
    ) -> "Write":
        """
        A time in the future is a wrong clock on the device: what was recorded by now has happened by now.

        `pools` are stock rows that the caller has read.
        """
        return cls(key, actor, now, min(happened_at or now, now), pools)

    @property
    def late(self) -> bool:
        """Whether this was made without a network and comes only now, so that others may have come before it."""
        return self.now - self.happened_at > RIGHT_AWAY

    @contextmanager
    def together(self) -> Iterator[None]:
        """
        Entries of custody written in this block are stored one by one, all that follows from them when it ends.

        Until then the rows of the units moved, their promises and those promises' entries are older in the database.
        """
        self._left.waiting = True
        yield
        self._left.waiting = False
        self.store()

    def about(self, part: str) -> facts.Common:
        """What every change of a promise takes; `part` tells it from the others of this call."""
        return {"key": self.key, "part": part, "now": self.now, "actor": self.actor, "later": self.later}

    @property
    def later(self) -> Later | None:
        """Where changes of promises wait; None: they do not."""
        return self._left.promises if self._left.waiting else None

    def settled(self, row: UnitNow, scarcer: set[int]) -> None:
        """Store a unit's row and warn of what became scarcer; in a block of `together`, at its end."""
        self._left.rows[row.unit_id] = row
        self._left.scarcer |= scarcer
        if not self._left.waiting:
            self.store()

    def store(self) -> None:
        """Store whatever waits."""
        left = self._left
        left.promises.store()
        _store_rows(tuple(left.rows.values()))
        if left.scarcer:
            facts.warn_if_over(left.scarcer, actor=self.actor, now=self.now)
        left.rows.clear()
        left.scarcer.clear()

    def pool_id_for(self, *, model_id: int, place: Holder) -> int:
        """As `places.pool_for`, without asking again for a stock row that the caller has read."""
        read = (pk for pk, pool in self.pools.items() if (pool.model_id, pool.place_id) == (model_id, place.pk))
        return next(read, None) or pool_for(model_id=model_id, place=place).pk

    def promise(self, reservation_id: int) -> Reservation:
        """The promise as it stands after all that this call has written."""
        if reservation_id not in self.promises:
            self.promises[reservation_id] = Reservation.objects.get(pk=reservation_id)
        return self.promises[reservation_id]

    def promise_to_draw_on(self, *, pool: Pool, job: Job) -> Reservation:
        """As `facts.promise_to_draw_on`; a promise once chosen serves until it is full or over."""
        chosen = self._chosen.get((pool.pk, job.pk))
        if chosen is None or chosen.state not in LIVE or chosen.drawn >= chosen.quantity:
            self._left.promises.store()  # which is full is asked of the database
            found = facts.promise_to_draw_on(pool=pool, job=job, happened_at=self.happened_at, now=self.now)
            chosen = self._chosen[pool.pk, job.pk] = self.promises.setdefault(found.pk, found)
        return chosen


@dataclass
class _Left:
    """What waits to be stored."""

    waiting: bool = False
    promises: Later = field(default_factory=Later)
    rows: dict[int, UnitNow] = field(default_factory=dict)
    scarcer: set[int] = field(default_factory=set)


_COLUMNS = tuple(item.name for item in UnitNow._meta.concrete_fields if not item.primary_key)


def _store_rows(changed: tuple[UnitNow, ...]) -> None:
    if len(changed) == 1 and not changed[0]._state.adding:
        rows.update(changed[0], *_COLUMNS)
    elif changed:
        UnitNow.objects.bulk_create(changed, update_conflicts=True, unique_fields=["unit"], update_fields=_COLUMNS)
