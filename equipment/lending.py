"""Machines that another firm lends in a surge: in at a warehouse, reserved within their loan, given back in the end."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.contrib.auth.models import User

from equipment import locks, places
from equipment.custody import Scan, book, rental
from equipment.custody.find import gather
from equipment.custody.writing import Write
from equipment.models import Condition, EquipmentModel, Holder, Loan, Move, Pool, Reservation, Unit, UnitNow, Vehicle
from equipment.reservations.book import LIVE
from jobs import journal
from jobs.refusals import NotThere, Refusal, Unusable
from jobs.use_case import key_for, use_case


class LoanInUse(Refusal):
    """Something of a loan still stands at a job, is promised to one, or is on a route."""

    code = "loan_in_use"


@dataclass(frozen=True)
class UnitsLent:
    """The loan, the stock row that lent units are reserved from, and their numbers."""

    loan_id: int
    pool_id: int
    numbers: tuple[str, ...]


@use_case("lend_units")
def lend_units(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    warehouse_id: int,
    model_id: int,
    firm: str,
    agreed_with: str,
    starts_at: datetime,
    ends_at: datetime,
    units: tuple[tuple[str, str], ...],
) -> UnitsLent:
    """
    Take in units that another firm lends over [`starts_at`, `ends_at`): `units` = ((our number, their number), ...).

    They are here already: a loan of machines that begins later is entered when they come. They get a stock row of
    their own, and count in no number of ours.

    :raises NumberTaken: if one of our numbers belongs to another unit.
    :raises Unusable: if a name is missing, no unit is named, or the period cannot be meant.
    :raises NotThere: if there is no such model of ours, or no such warehouse.
    """
    if starts_at > now:
        raise Unusable("Enter lent units when they are here: the loan begins now or before.", where="starts_at")
    if not units or not all(theirs.strip() for _, theirs in units):
        raise Unusable("Name each lent unit by a number of ours and by its owner's number.", where="units")
    like = EquipmentModel.objects.filter(pk=model_id, loan=None).first()
    if like is None:
        raise NotThere(f"There is no equipment model {model_id}. Choose one from the list.", where="model_id")
    to = places.holder_for_warehouse(warehouse_id)
    loan = begin_loan(
        actor=actor,
        now=now,
        area_id=to.area_id,
        firm=firm,
        agreed_with=agreed_with,
        starts_at=starts_at,
        ends_at=ends_at,
    )
    numbers = rental.free_numbers(units)
    model = _model_like(like, loan)
    pool = places.pool_for(model_id=model.pk, place=to)
    locks.lock_pools([pool.pk])
    origin = places.holder_for(Holder.Kind.SUPPLIER, area_id=to.area_id, name=loan.firm)
    write = Write.of(key, actor, now, starts_at)
    for number, theirs in numbers.items():
        unit = Unit.objects.create(
            number=number,
            model=model,
            rented=True,
            supplier=loan.firm,
            supplier_number=theirs.strip()[:40],
            daily_cost=0,
        )
        row = UnitNow(
            unit=unit, holder=origin, condition=Condition.READY, since=starts_at, seen_at=starts_at, seen_by=actor
        )
        book.record(row, Move.Why.RENTED_IN, book.After(to, Condition.READY), write, note=f"lent by {loan.firm}")
    return UnitsLent(loan.pk, pool.pk, tuple(numbers))


def begin_loan(
    *,
    actor: User,
    now: datetime,
    area_id: int,
    firm: str,
    agreed_with: str,
    starts_at: datetime,
    ends_at: datetime,
) -> Loan:
    """
    Write down a loan; what is lent is marked by it afterwards. Call inside a use case.

    :raises Unusable: if a name is missing, or the period is empty or over.
    """
    for where, said in (("firm", firm), ("agreed_with", agreed_with)):
        if not said.strip():
            raise Unusable("Name the firm that lends, and who there agreed to it.", where=where)
    if ends_at <= max(starts_at, now):
        raise Unusable("A loan ends after it begins, and later than now. Give a later end.", where="ends_at")
    loan = Loan.objects.create(
        area_id=area_id,
        firm=firm.strip()[:60],
        agreed_with=agreed_with.strip()[:80],
        agreed_by=actor,
        agreed_at=now,
        starts_at=starts_at,
        ends_at=ends_at,
    )
    journal.note(kind="loan_begun", actor=actor, now=now, area_id=area_id, data={"loan": loan.pk})
    return loan


def give_back(loan: Loan, *, key: UUID, actor: User, now: datetime) -> tuple[Scan, ...]:
    """
    Give all units of a loan back. Call inside a use case.

    :raises LoanInUse: if one is at a job or promised to one, or if units are aboard a lent vehicle.
    """
    _check_nothing_out(loan)
    numbers = tuple(Unit.objects.filter(model__loan=loan, called_off_at=None).values_list("number", flat=True))
    if not numbers:
        return ()
    return tuple(
        rental.give_back(row, key=key_for(key, row.unit.number), actor=actor, now=now, note=f"back to {loan.firm}")
        for row in gather(numbers).rows
    )


def _model_like(like: EquipmentModel, loan: Loan) -> EquipmentModel:
    """The same machine as a model of its own, so that what is lent is reserved and counted apart."""
    lent = EquipmentModel.objects.get(pk=like.pk)
    lent.pk, lent.loan, lent._state.adding = None, loan, True
    lent.code = f"{like.code[:24].rstrip('-')}-loan-{loan.pk}"
    room = 80 - len(f", {loan}")
    lent.name = f"{like.name[:room]}, {loan}"
    lent.save()
    return lent


def _check_nothing_out(loan: Loan) -> None:
    pools = Pool.objects.filter(model__loan=loan)
    promise = Reservation.objects.filter(pool__in=pools, state__in=LIVE).select_related("job").first()
    at_job = UnitNow.objects.filter(unit__model__loan=loan, holder__kind=Holder.Kind.JOB).select_related("unit").first()
    if at_job is not None:
        raise LoanInUse(f"Number {at_job.unit.number} still stands at job {at_job.holder}. Take it up first.")
    if promise is not None:
        raise LoanInUse(f"Units of this loan are promised to job {promise.job.number}. Release that hold first.")
    vehicle = Vehicle.objects.filter(loan=loan, holder__units_now__isnull=False).first()
    if vehicle is not None:
        raise LoanInUse(f"Units are aboard {vehicle.name}. Scan them in at a warehouse first.")
