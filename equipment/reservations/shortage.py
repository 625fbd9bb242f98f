"""Saying what is not there, when it will be, and where else it is."""

from dataclasses import asdict, dataclass
from datetime import datetime

from equipment.models import Pool
from equipment.reservations import book
from equipment.stock.availability import first_free, free
from jobs.refusals import Refusal

ELSEWHERE_AT_MOST = 5


class Short(Refusal):
    """A pool would be promised beyond its stock."""

    code = "short"


@dataclass(frozen=True)
class Elsewhere:
    """So many of the same model are free at another place over the same period."""

    pool_id: int
    place: str
    free: int


@dataclass(frozen=True)
class Shortage:
    """One pool that cannot give what is wanted."""

    pool_id: int
    model: str
    place: str
    wanted: int
    free: int
    free_from: datetime | None
    elsewhere: tuple[Elsewhere, ...]


def find(
    pools: dict[int, Pool],
    wanted: dict[int, int],
    *,
    starts_at: datetime,
    ends_at: datetime,
    now: datetime,
    without: int | None = None,
) -> tuple[Shortage, ...]:
    """Every pool that cannot give what is wanted of it over [`starts_at`, `ends_at`); empty: all can."""
    used = book.uses(set(wanted), now=now, not_before=starts_at, until=ends_at, without=without)
    found = []
    for pool_id, quantity in wanted.items():
        pool, stock = pools[pool_id], book.usable_stock(pools[pool_id])
        there = free(used[pool_id], stock, starts_at, ends_at)
        if there >= quantity:
            continue
        # Only who is refused wants to know of later, which may be much.
        all_later = book.uses({pool_id}, now=now, not_before=starts_at, without=without)[pool_id]
        later = first_free(all_later, stock, quantity, starts_at, ends_at - starts_at)
        others = _elsewhere(pool, starts_at=starts_at, ends_at=ends_at, now=now)
        found.append(Shortage(pool_id, pool.model.name, str(pool.place), quantity, max(0, there), later, others))
    return tuple(found)


def _elsewhere(pool: Pool, *, starts_at: datetime, ends_at: datetime, now: datetime) -> tuple[Elsewhere, ...]:
    rows = Pool.objects.select_related("place__vehicle", "model").filter(
        model=pool.model, place__area=pool.place.area_id, stock__gt=0
    )
    others = {row.pk: row for row in rows.exclude(pk=pool.pk)}
    used = book.uses(set(others), now=now, not_before=starts_at, until=ends_at)
    there = [
        Elsewhere(pk, str(row.place), free(used[pk], book.usable_stock(row), starts_at, ends_at))
        for pk, row in others.items()
    ]
    return tuple(sorted((e for e in there if e.free > 0), key=lambda e: (-e.free, e.place))[:ELSEWHERE_AT_MOST])


def refuse(shortages: tuple[Shortage, ...], pools: dict[int, Pool]) -> Short:
    """The refusal that names every shortage."""
    sentences = []
    for lack in shortages:
        zone = pools[lack.pool_id].place.area.zone
        text = f"{lack.model} at {lack.place}: {lack.wanted} asked, {lack.free} free."
        if lack.free_from is not None:
            text += f" {lack.wanted} are free from {lack.free_from.astimezone(zone):%a %b %-d %-I:%M %p}."
        if lack.elsewhere:
            text += " Elsewhere: " + ", ".join(f"{e.place} {e.free}" for e in lack.elsewhere) + "."
        sentences.append(text)
    return Short(
        " ".join(sentences) + " Ask for less, for another place or for a later time.",
        short=[asdict(s) for s in shortages],
    )
