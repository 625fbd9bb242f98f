"""Which columns of both journals the seals cover."""

from equipment.models import Move, Reservation, ReservationEntry
from equipment.stock.seal import seal

MOVE_COLUMNS = (
    "key",
    "unit_id",
    "why",
    "from_holder_id",
    "to_holder_id",
    "room_name",
    "reservation_id",
    "condition_after",
    "water_category",
    "hour_meter",
    "happened_at",
    "recorded_at",
    "actor_id",
    "note",
    "corrects_id",
)
ENTRY_COLUMNS = (
    "key",
    "reservation_id",
    "kind",
    "quantity",
    "drawn",
    "starts_at",
    "ends_at",
    "keep_until",
    "reason",
    "at",
    "actor_id",
)
# What never changes of a promise: sealed into each of its entries.
PROMISE_COLUMNS = ("pool_id", "job_id", "sizing_id", "leads_reason", "made_at")


def seal_move(move: Move, previous: str) -> str:
    """The seal of a custody entry after the unit's last one."""
    values = [getattr(move, name) for name in MOVE_COLUMNS]
    # The column holds floats: a whole number given for one reads back as a float, and would break its seal.
    return seal(
        previous,
        [
            float(value) if name == "hour_meter" and value is not None else value
            for name, value in zip(MOVE_COLUMNS, values, strict=True)
        ],
    )


def seal_entry(entry: ReservationEntry, promise: Reservation, previous: str) -> str:
    """The seal of an entry about a promise after its last one."""
    fixed = [getattr(promise, name) for name in PROMISE_COLUMNS]
    return seal(previous, [*fixed, *(getattr(entry, name) for name in ENTRY_COLUMNS)])
