"""The one place that writes promises: each entry carries the whole promise as it stands after it."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from uuid import UUID

from django.contrib.auth.models import User

from equipment.models import Pool, Reservation, ReservationEntry
from equipment.seals import seal_entry
from equipment.stock.availability import Use
from equipment.stock.replay import TERMINAL
from jobs import due_work, rows
from jobs.use_case import key_for

LIVE = (Reservation.State.HELD, Reservation.State.CONFIRMED)
EXPIRE, END = "equipment.expire_hold", "equipment.end_of_promise"
# What may change of a promise.
CHANGING = ("state", "quantity", "drawn", "starts_at", "ends_at", "keep_until", "seal")
# A unit that is still out when its period ends is looked at again a day later (ours: pick-ups are planned daily).
OVERRUN_STEP = timedelta(days=1)
# More entries than this are written with a statement of their own.
AT_ONCE = 20

Kind = ReservationEntry.Kind


@dataclass
class Later:
    """What many writes of one call leave to be stored together: each promise once, every entry, each timer once."""

    promises: dict[int, Reservation] = field(default_factory=dict)
    entries: list[ReservationEntry] = field(default_factory=list)
    timers: dict[tuple[int, str], datetime] = field(default_factory=dict)

    def add(self, promise: Reservation, entry: ReservationEntry) -> None:
        """Keep one entry, and the promise as it stands after it."""
        self.promises[promise.pk] = promise
        self.entries.append(entry)
        self.timers[promise.pk, entry.kind] = entry.at

    def store(self) -> None:
        """Store what was kept; nothing is left to be stored afterwards."""
        if not self.entries:
            return
        made = [promise for promise in self.promises.values() if promise._state.adding]
        for promise in self.promises.values():
            if not promise._state.adding:
                rows.update(promise, *CHANGING)
        if len(self.entries) > AT_ONCE:
            ReservationEntry.objects.bulk_create(self.entries)
            self.entries.clear()
        wanted = {
            timer.coalesce: timer
            for (promise_id, kind), now in self.timers.items()
            for timer in _timers(self.promises[promise_id], kind, now)
        }
        along = [rows.Insert(new) for new in (made, self.entries) if new]
        due_work.enqueue_all(list(wanted.values()), now=max(self.timers.values()), along=along)
        self.promises.clear()
        self.entries.clear()
        self.timers.clear()


def write(
    promise: Reservation,
    kind: str,
    *,
    key: UUID,
    part: str = "",
    now: datetime,
    actor: User,
    reason: str = "",
    later: Later | None = None,
) -> None:
    """
    Store the promise as the caller changed it, the entry that says so, and the timers that it needs.

    The caller holds the lock of the promise's pool, and has given a new promise its key, which its entries name and
    their seals cover. With `later`, nothing is stored until `later.store()`.
    """
    if kind in TERMINAL:
        promise.state = Reservation.State(TERMINAL[kind])
        promise.keep_until = None
    elif kind == Kind.CONFIRM:
        promise.state = Reservation.State.CONFIRMED
        promise.keep_until = None
    entry = ReservationEntry(
        key=key_for(key, f"{kind}:{promise.pk}:{part}"),
        reservation=promise,
        kind=kind,
        quantity=promise.quantity,
        drawn=promise.drawn,
        starts_at=promise.starts_at,
        ends_at=promise.ends_at,
        keep_until=promise.keep_until,
        reason=reason[:300],
        at=now,
        actor=actor,
    )
    entry.seal = promise.seal = seal_entry(entry, promise, promise.seal)
    together = later if later is not None else Later()
    together.add(promise, entry)
    if later is None:
        together.store()


def _timers(promise: Reservation, kind: str, now: datetime) -> Iterator[due_work.Work]:
    """Cancel what is not needed any more; what is to be written."""
    if promise.state == Reservation.State.HELD:
        if kind in {Kind.HOLD, Kind.EXTEND} and promise.keep_until is not None:
            yield timer(EXPIRE, promise, promise.keep_until)
    elif kind == Kind.CONFIRM or kind in TERMINAL:
        due_work.cancel(coalesce=f"{EXPIRE}:{promise.pk}", now=now)
    if promise.state not in LIVE:
        due_work.cancel(coalesce=f"{END}:{promise.pk}", now=now)
    elif kind in {Kind.HOLD, Kind.EXTEND, Kind.SHORTEN, Kind.OVERRUN}:
        yield timer(END, promise, promise.ends_at)


def timer(kind: str, promise: Reservation, when: datetime) -> due_work.Work:
    """Looking at the promise again at that time."""
    return due_work.Work(kind, {"reservation_id": promise.pk}, when, f"{kind}:{promise.pk}")


_USES = (
    "SELECT pool_id, starts_at, ends_at, quantity, drawn FROM equipment_reservation WHERE pool_id IN ({pools}) "
    f"AND state IN {tuple(state.value for state in LIVE)} AND (ends_at > %s OR drawn > 0)"
)


def uses(
    pool_ids: set[int],
    *,
    now: datetime,
    not_before: datetime,
    until: datetime | None = None,
    without: int | None = None,
) -> dict[int, list[Use]]:
    """
    What is promised of each pool from `not_before` on (if given, before `until`), except by the promise `without`.

    Units still out after their period are in use until somebody has looked, whether or not the timer has run.
    """
    if not pool_ids:
        return {}
    text, values = _USES.format(pools=", ".join(["%s"] * len(pool_ids))), [*pool_ids, rows.as_stored(not_before)]
    if until is not None:
        text, values = f"{text} AND starts_at < %s", [*values, rows.as_stored(until)]
    if without is not None:
        text, values = f"{text} AND id <> %s", [*values, without]
    found: dict[int, list[Use]] = {pool_id: [] for pool_id in pool_ids}
    for pool_id, starts_at, ends_at, quantity, drawn in rows.select(text, values, times=(1, 2)):
        if drawn and ends_at <= now:
            found[pool_id].append(Use(starts_at, now + OVERRUN_STEP, drawn))
        else:
            found[pool_id].append(Use(starts_at, ends_at, quantity))
    return found


def usable_stock(pool: Pool) -> int:
    """A vehicle in the workshop counts for nothing, whatever is aboard; nor does what was counted away by model."""
    vehicle = pool.place.vehicle
    return 0 if vehicle is not None and vehicle.in_workshop else max(0, pool.stock - pool.counted_away)
