"""Real processes against one stock: the race is shown first, then its absence."""

from collections import Counter
from collections.abc import Callable, Iterable
from random import Random
from typing import Any
from uuid import uuid4

import pytest
from django.db import connection

from equipment import locks, reservations
from equipment.audit import audit
from equipment.models import Move, Reservation, ReservationEntry
from equipment.reservations import book
from equipment.stock.availability import peak_use
from jobs.models import Job
from jobs.refusals import Busy
from tests.equipment.cast import DAY, HOUR, NIGHT, Cast

pytestmark = pytest.mark.django_db(transaction=True)
Race = Callable[..., list[list[str]]]


def hold(job: Job, *wanted: tuple[int, int], start: float = 0, end: float = 24, **more: Any) -> dict[str, Any]:
    terms = {"starts_at": start, "ends_at": end, "keep_for": 1, "leads_reason": "wet"}
    return {"do": "hold", "who": "dispatcher", "with": {"job_id": job.pk, "wanted": wanted, **terms}, **more}


def peak(pool_id: int) -> int:
    return peak_use(book.uses({pool_id}, now=NIGHT, not_before=NIGHT)[pool_id], NIGHT, NIGHT + 9 * DAY)


def outcomes(answers: list[list[str]]) -> Counter[str]:
    return Counter(answer for steps in answers for answer in steps)


def test_looking_before_locking_promises_the_last_unit_to_everybody(cast: Cast, race: Race) -> None:
    """The race itself: each process looks first, then all of them write what they saw."""
    cast.units("0001")
    pool, job = cast.pool(), cast.job()
    answers = race(*[{"steps": [hold(job, (pool.pk, 1))], "stale": True} for _ in range(3)])
    assert outcomes(answers) == {"done": 3}
    assert peak(pool.pk) == 3 > pool.stock


def test_locking_before_looking_promises_it_once(cast: Cast, race: Race) -> None:
    cast.units("0001")
    pool, job = cast.pool(), cast.job()
    answers = race(*[{"steps": [hold(job, (pool.pk, 1))]} for _ in range(3)])
    assert outcomes(answers) == {"done": 1, "short": 2}
    assert peak(pool.pk) == pool.stock
    assert audit() == ()


def test_many_competing_holds_fill_the_stock_and_never_more(cast: Cast, race: Race) -> None:
    cast.units(*[f"{n:04}" for n in range(1, 31)])
    pool, job = cast.pool(), cast.job()
    answers = race(*[{"steps": [hold(job, (pool.pk, 1))] * 20} for _ in range(3)])
    assert outcomes(answers) == {"done": 30, "short": 30}
    assert peak(pool.pk) == 30
    assert ReservationEntry.objects.filter(kind="hold").count() == Reservation.objects.count() == 30
    assert audit() == ()


def test_two_warehouses_in_opposite_order_never_lock_each_other_out(cast: Cast, race: Race) -> None:
    cast.units(*[f"{n:04}" for n in range(1, 41)])
    cast.units(*[f"{n:04}" for n in range(41, 81)], at=cast.south)
    north, south, job = cast.pool(), cast.pool(at=cast.south), cast.job()
    there = {"steps": [hold(job, (north.pk, 1), (south.pk, 1))] * 15}
    back = {"steps": [hold(job, (south.pk, 1), (north.pk, 1))] * 15}
    assert outcomes(race(there, back, there)) == {"done": 40, "short": 5}
    assert audit() == ()


def test_two_phones_scan_one_unit_and_it_is_loaded_once(cast: Cast, race: Race) -> None:
    numbers = [f"{n:04}" for n in range(1, 9)]
    cast.units(*numbers)

    def scan(number: str) -> dict[str, Any]:
        onto = {"numbers": [number], "vehicle_id": cast.van.pk}
        return {"do": "scan_out", "who": "warehouse", "with": onto}

    plan = {"steps": [scan(number) for number in numbers]}
    assert outcomes(race(plan, plan)) == {"done": 8, "already_there": 8}
    assert Move.objects.filter(why="loaded").count() == 8
    assert audit() == ()


def test_the_same_upload_five_times_at_once_counts_once(cast: Cast, race: Race) -> None:
    cast.units("0001", at=cast.van)
    job, key = cast.job(), str(uuid4())
    placing = {"job_id": job.pk, "room_name": "hall", "numbers": ["0001"]}
    plan = {"steps": [{"do": "place_units", "who": "crew_lead", "key": key, "with": placing}]}
    assert outcomes(race(*[plan] * 5)) == {"done": 5}
    assert Move.objects.filter(why="placed").count() == 1
    assert audit() == ()


def test_holding_against_extending_and_lapsing(cast: Cast, race: Race) -> None:
    """One unit: somebody holds tomorrow while another extends into it, and a lapsed hold is taken over at once."""
    cast.units("0001")
    pool, job = cast.pool(), cast.job()

    def made(start: int, end: int) -> int:
        return reservations.hold(
            **cast.by(cast.dispatcher),
            job_id=job.pk,
            wanted=((pool.pk, 1),),
            starts_at=NIGHT + start * HOUR,
            ends_at=NIGHT + end * HOUR,
            keep_for=HOUR,
            leads_reason="wet",
        ).reservation_ids[0]

    mine, lapsing = made(0, 10), made(48, 60)
    extend = {"do": "extend_hold", "who": "dispatcher", "with": {"reservation_id": mine, "ends_at": 20}}
    expire = {"do": "expire_hold", "who": "manager", "minutes": 61, "with": {"reservation_id": lapsing}}
    system = cast.manager.memberships.model.objects.create(user=cast.manager, role="system", area=None)
    assert system.pk
    answers = race(
        {"steps": [extend, expire]},
        {"steps": [hold(job, (pool.pk, 1), start=15, end=30), hold(job, (pool.pk, 1), start=50, end=55)]},
    )
    assert sorted((answers[0][0], answers[1][0])) == ["done", "short"]
    assert answers[0][1] == "done"
    assert answers[1][1] in {"done", "short"}
    assert peak(pool.pk) == 1
    assert audit() == ()


def test_who_waits_too_long_is_told_to_try_again_and_may(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    cast.units("0001")
    pool, job, key = cast.pool(), cast.job(), uuid4()
    terms = {"starts_at": NIGHT, "ends_at": NIGHT + DAY, "keep_for": HOUR, "leads_reason": "wet"}
    monkeypatch.setattr(locks, "WAIT", "20ms")
    if connection.vendor == "sqlite":
        connection.cursor().execute("PRAGMA busy_timeout = 20")
    somebody = connection.copy()
    try:
        begin = "BEGIN IMMEDIATE" if connection.vendor == "sqlite" else "BEGIN; SELECT * FROM equipment_pool FOR UPDATE"
        somebody.cursor().execute(begin)
        with pytest.raises(Busy):
            reservations.hold(**cast.by(cast.dispatcher, key=key), job_id=job.pk, wanted=((pool.pk, 1),), **terms)
        if connection.vendor == "sqlite":
            # Not even that the role is refused can be stored, and the sign of that is no fault of the program.
            with pytest.raises(Busy):
                reservations.hold(**cast.by(cast.lead), job_id=job.pk, wanted=((pool.pk, 1),), **terms)
    finally:
        somebody.close()
        connection.close()  # its short timeout with it
    reservations.hold(**cast.by(cast.dispatcher, key=key), job_id=job.pk, wanted=((pool.pk, 1),), **terms)
    assert peak(pool.pk) == 1


def highest(periods: Iterable[tuple[int, int, int]]) -> int:
    """The most units of (start hour, end hour, units) in use in one hour, counted hour by hour."""
    in_use: Counter[int] = Counter()
    for start, end, units in periods:
        for at in range(start, end):
            in_use[at] += units
    return max(in_use.values())


@pytest.mark.long
def test_ten_thousand_holds_by_eight_processes(cast: Cast, race: Race) -> None:
    """Of random periods and sizes; no refused one would have fitted, none was granted too many, none is lost."""
    stock = 2_400
    cast.units(*[f"{n:05}" for n in range(1, stock + 1)])
    pool, job, random = cast.pool(), cast.job(), Random(1)
    asked = [
        [
            (start := random.randrange(0, 72), start + random.randrange(6, 49), random.randint(1, 2))
            for _ in range(1_250)
        ]
        for _ in range(8)
    ]
    answers = race(*[{"steps": [hold(job, (pool.pk, n), start=a, end=b) for a, b, n in part]} for part in asked])
    assert set(outcomes(answers)) == {"done", "short"}
    granted, refused = (
        [
            want
            for part, came in zip(asked, answers, strict=True)
            for want, how in zip(part, came, strict=True)
            if how == word
        ]
        for word in ("done", "short")
    )
    assert len(granted) + len(refused) == 10_000
    assert 3_000 <= len(granted) <= 7_000
    assert highest(granted) == stock == peak(pool.pk)
    held = Reservation.objects.values_list("starts_at", "ends_at", "quantity")
    assert Counter(held) == Counter((NIGHT + a * HOUR, NIGHT + b * HOUR, n) for a, b, n in granted)
    assert ReservationEntry.objects.filter(kind="hold").count() == len(granted)
    assert audit() == ()
    in_use = [sum(n for a, b, n in granted if a <= at < b) for at in range(120)]
    assert all(max(in_use[a:b]) + n > stock for a, b, n in refused)
