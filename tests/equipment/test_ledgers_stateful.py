"""Random operations against both ledgers and an independent picture of them, with the audit after each."""

from datetime import timedelta

import pytest
from django.db import transaction
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from equipment import custody, reservations
from equipment.audit import audit
from equipment.models import Pool, Reservation, UnitNow
from tests.equipment import cast as casting
from tests.equipment.cast import HOUR, NIGHT
from tests.equipment.plain_books import PlainBooks, PlainUnit

NUMBERS = tuple(f"{n:04}" for n in range(1, 7))
JOBS = ("clean", "sewage")
WAREHOUSES = ("North warehouse", "South warehouse")
VANS = ("Van 1", "Van 2")
POOLS = (*WAREHOUSES, *VANS)
LIVE = ("held", "confirmed")
numbers, jobs, warehouses, vans = (st.sampled_from(words) for words in (NUMBERS, JOBS, WAREHOUSES, VANS))


class Ledgers(RuleBasedStateMachine):
    """Every rule does the same thing to the real ledgers and to the picture."""

    @initialize()
    def open(self) -> None:
        self.savepoint = transaction.atomic()
        self.savepoint.__enter__()
        self.cast = cast = casting.make()
        cast.manager.memberships.create(role="system", area=None)
        cast.units(*NUMBERS[:4])
        cast.units(*NUMBERS[4:], at=cast.van)
        self.rows = {"clean": cast.job(), "sewage": cast.job(category=3)}
        self.names = {row.number: name for name, row in self.rows.items()}
        self.places = dict(zip(POOLS, (cast.north, cast.south, cast.van, cast.other_van), strict=True))
        units = {n: PlainUnit("North warehouse", "ready", "North warehouse") for n in NUMBERS[:4]}
        units |= {n: PlainUnit("Van 1", "ready", "Van 1") for n in NUMBERS[4:]}
        self.plain = PlainBooks(units, {"clean": 1, "sewage": 3})

    def teardown(self) -> None:
        if hasattr(self, "savepoint"):
            transaction.set_rollback(True)
            self.savepoint.__exit__(None, None, None)

    def promise(self, pool: str, job: str) -> Reservation | None:
        row = self.cast.pool(at=self.places[pool])
        return Reservation.objects.filter(pool=row, job=self.rows[job], state__in=LIVE).first()

    @rule(
        pool=st.sampled_from(POOLS), job=jobs, units=st.integers(1, 4), start=st.integers(0, 6), hours=st.integers(1, 9)
    )
    def hold(self, pool: str, job: str, units: int, start: int, hours: int) -> None:
        if (pool, job) in self.plain.promises:
            return
        granted = self.plain.hold(pool, job, units, start, start + hours)
        try:
            reservations.hold(
                **self.cast.by(self.cast.dispatcher),
                job_id=self.rows[job].pk,
                wanted=((self.cast.pool(at=self.places[pool]).pk, units),),
                starts_at=NIGHT + start * HOUR,
                ends_at=NIGHT + (start + hours) * HOUR,
                keep_for=timedelta(minutes=30),
                leads_reason="wet",
            )
        except reservations.Short:
            assert not granted
        else:
            assert granted

    @precondition(lambda self: self.plain.promises)
    @rule(data=st.data(), lapse=st.booleans())
    def release_or_lapse(self, data: st.DataObject, lapse: bool) -> None:
        pool, job = data.draw(st.sampled_from(sorted(self.plain.promises)))
        promise = self.promise(pool, job)
        assert promise is not None
        if lapse and promise.state == "held":
            late = self.cast.by(self.cast.manager, NIGHT + HOUR)
            reservations.expire_hold(**late, reservation_id=promise.pk)
        else:
            reservations.release_hold(**self.cast.by(self.cast.dispatcher), reservation_id=promise.pk)
        self.plain.release(pool, job)

    @rule(number=numbers, van=vans, job=st.none() | jobs)
    def load(self, number: str, van: str, job: str | None) -> None:
        unit = self.plain.units[number]
        if unit.place == van or unit.place in JOBS:
            return
        job_id = self.rows[job].pk if job else None
        onto = {"numbers": (number,), "vehicle_id": self.places[van].pk, "job_id": job_id}
        if unit.condition == "held_back":
            with pytest.raises(custody.NotDecontaminated):
                custody.scan_out(**self.cast.by(self.cast.keeper), **onto)
            return
        custody.scan_out(**self.cast.by(self.cast.keeper), **onto)
        self.plain.load(number, van, job)

    @rule(number=numbers, job=jobs)
    def place(self, number: str, job: str) -> None:
        unit = self.plain.units[number]
        if unit.place == job or unit.condition in {"broken", "held_back"}:
            return
        custody.place_units(
            **self.cast.by(self.cast.lead), job_id=self.rows[job].pk, room_name="hall", numbers=(number,)
        )
        self.plain.place(number, job)

    @rule(number=numbers, van=vans)
    def take_up(self, number: str, van: str) -> None:
        unit = self.plain.units[number]
        if unit.place not in JOBS or unit.condition == "broken":
            return
        came_dirty = UnitNow.objects.get(unit__number=number).water_category == 3
        custody.take_up_units(
            **self.cast.by(self.cast.lead),
            job_id=self.rows[unit.place].pk,
            vehicle_id=self.places[van].pk,
            numbers=(number,),
        )
        self.plain.take_up(number, unit.place, van)
        if came_dirty:  # it had met category 3 water before this job and was never cleaned since
            unit.condition = "held_back"

    @rule(number=numbers, warehouse=warehouses)
    def bring_in(self, number: str, warehouse: str) -> None:
        unit = self.plain.units[number]
        if unit.place == warehouse or unit.place in JOBS:
            return
        custody.scan_in(**self.cast.by(self.cast.keeper), numbers=(number,), warehouse_id=self.places[warehouse].pk)
        self.plain.bring_in(number, warehouse)

    @rule(number=numbers)
    def make_ready(self, number: str) -> None:
        unit = self.plain.units[number]
        if unit.place in JOBS or unit.condition == "ready":
            return
        steps = ("repaired", "cleaned", "decontaminated", "filter_changed", "tested")
        custody.set_condition(**self.cast.by(self.cast.keeper), numbers=(number,), condition="ready", steps=steps)
        self.plain.make_ready(number)

    @rule(number=numbers)
    def break_down(self, number: str) -> None:
        custody.set_condition(**self.cast.by(self.cast.keeper), numbers=(number,), condition="broken")
        self.plain.break_down(number)

    @invariant()
    def both_agree(self) -> None:
        if not hasattr(self, "plain"):
            return
        assert audit() == ()
        rows = UnitNow.objects.select_related("unit", "holder", "pool__place")
        real = {
            row.unit.number: (
                self.names.get(str(row.holder), str(row.holder)),
                row.condition,
                str(row.pool.place) if row.pool else None,
            )
            for row in rows
        }
        assert real == {n: (u.place, u.condition, u.pool) for n, u in self.plain.units.items()}
        for pool in Pool.objects.select_related("place"):
            assert pool.stock == self.plain.stock(str(pool.place))
        live = Reservation.objects.filter(state__in=LIVE).select_related("pool__place", "job")
        promised = {(str(row.pool.place), self.names[row.job.number]): (row.quantity, row.drawn) for row in live}
        assert promised == {where: (p.quantity, p.drawn) for where, p in self.plain.promises.items()}
        assert len(live) == len(promised)


@pytest.mark.django_db
def test_random_operations_keep_both_ledgers_right() -> None:
    run_state_machine_as_test(
        Ledgers,
        settings=settings(
            max_examples=12,
            stateful_step_count=20,
            deadline=None,
            derandomize=True,
            suppress_health_check=list(HealthCheck),
        ),
    )
