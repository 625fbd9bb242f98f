"""
Crews that another firm lends in a surge, and the end of any loan.

A lent crew stands in the same tables as ours (people, cards, vehicle, hours), so the same rules decide who may go; its
firm's licenses stand for ours. Its people do not work here (`active` is false): no list of our people, no rota and no
count has them.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import UUID

from django.contrib.auth.hashers import UNUSABLE_PASSWORD_PREFIX
from django.contrib.auth.models import User

from dispatch.models import Card, Crew, FirmLicense, Person, Stop
from dispatch.rules import figure, requirements
from equipment import lending, places
from equipment.lending import LoanInUse
from equipment.models import Loan, Vehicle, Warehouse
from jobs import access, journal
from jobs.models import Membership, Visit
from jobs.refusals import NotThere, Refusal, Unusable
from jobs.use_case import key_for, use_case

OPEN_VISITS = (Visit.State.DUE, Visit.State.UNDER_WAY)


class CrewNameTaken(Refusal):
    """Another crew of that day has this name."""

    code = "crew_name_taken"


class LoanOver(Refusal):
    """The loan was ended before."""

    code = "loan_over"


@dataclass(frozen=True)
class LentCard:
    """A card or a license as it was shown to us: `state` "" is good everywhere, no `expires_on` never lapses."""

    kind: str
    state: str = ""
    expires_on: date | None = None


@dataclass(frozen=True)
class LentPerson:
    """Somebody of the other firm, with the cards that were shown to us."""

    name: str
    phone: str
    cards: tuple[LentCard, ...] = ()


@dataclass(frozen=True)
class LentVehicle:
    """Their vehicle; `capacity` = ((equipment kind, units), ...)."""

    name: str
    gvwr_lb: int
    payload_lb: int
    cargo_cuft: int
    capacity: tuple[tuple[str, int], ...]


@dataclass(frozen=True)
class CrewLent:
    """The loan and its crew."""

    loan_id: int
    crew_id: int
    vehicle_id: int


@dataclass(frozen=True)
class LoanEnded:
    """The loan, and the numbers of the units that went back."""

    loan_id: int
    numbers: tuple[str, ...]


@use_case("lend_crew", private=("lead", "helper"))
def lend_crew(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    warehouse_id: int,
    firm: str,
    agreed_with: str,
    starts_at: datetime,
    ends_at: datetime,
    name: str,
    lead: LentPerson,
    vehicle: LentVehicle,
    licenses: tuple[LentCard, ...],
    helper: LentPerson | None = None,
) -> CrewLent:
    """
    Take on a crew that another firm lends for one shift, [`starts_at`, `ends_at`), reporting to a warehouse.

    :param licenses: what the other firm may do, state by state; without one it may work nowhere.
    :raises CrewNameTaken: if a crew of that day has the name.
    :raises Unusable: if a name or a phone is missing, a card is none that any rule asks for, a weight cannot be, or
        the hours are over or longer than anybody may be awake.
    :raises NotThere: if there is no such warehouse.
    """
    base = Warehouse.objects.select_related("area").filter(pk=warehouse_id).first()
    if base is None:
        raise NotThere(f"There is no warehouse {warehouse_id}. Choose one from the list.", where="warehouse_id")
    _check_hours(starts_at, ends_at)
    _check_vehicle(vehicle)
    day = starts_at.astimezone(base.area.zone).date()
    if not name.strip():
        raise Unusable("Give the crew a name, such as L1.", where="name")
    if Crew.objects.filter(area=base.area, service_day=day, name=name.strip()[:40]).exists():
        raise CrewNameTaken(f"A crew of {day:%b} {day.day} is called {name.strip()}. Give this one another name.")
    loan = lending.begin_loan(
        actor=actor,
        now=now,
        area_id=base.area_id,
        firm=firm,
        agreed_with=agreed_with,
        starts_at=starts_at,
        ends_at=ends_at,
    )
    FirmLicense.objects.bulk_create(
        FirmLicense(area=base.area, loan=loan, kind=row.kind, state=row.state, expires_on=row.expires_on)
        for row in _licenses(licenses)
    )
    van = _vehicle(vehicle, loan, base)
    first = _person(lead, "lead", key, base)
    second = None if helper is None else _person(helper, "helper", key, base)
    crew = Crew.objects.create(
        area=base.area,
        service_day=day,
        name=name.strip()[:40],
        lead=first,
        helper=second,
        vehicle=van,
        start=base,
        end=base,
        starts_at=starts_at,
        ends_at=ends_at,
        at_latest=ends_at,
        loan=loan,
    )
    return CrewLent(loan.pk, crew.pk, van.pk)


@use_case("end_loan")
def end_loan(*, key: UUID, actor: User, now: datetime, loan_id: int) -> LoanEnded:
    """
    End a loan: its crew is offered no more, its units go back to their owner.

    :raises LoanOver: if it was ended before.
    :raises LoanInUse: if the crew has visits to make, or a unit is at a job, promised, or aboard a lent vehicle.
    :raises NotThere: if there is no such loan.
    """
    loan = Loan.objects.select_for_update().filter(pk=loan_id).first()
    if loan is None:
        raise NotThere(f"There is no loan {loan_id}.", where="loan_id")
    if loan.ended_at is not None:
        raise LoanOver("This loan was ended before. Nothing of it is here any more.")
    stop = Stop.objects.filter(crew__loan=loan, visit__state__in=OPEN_VISITS).select_related("crew", "visit__job")
    for row in stop[:1]:
        number = row.visit.job.number
        raise LoanInUse(f"{row.crew.name} still has {number} on its route. Give that visit to another crew first.")
    scans = lending.give_back(loan, key=key_for(key, "back"), actor=actor, now=now)
    loan.ended_at = now
    loan.save(update_fields=["ended_at"])
    User.objects.filter(person__crews_led__loan=loan).update(is_active=False)
    User.objects.filter(person__crews_helped__loan=loan).update(is_active=False)
    journal.note(kind="loan_ended", actor=actor, now=now, area_id=loan.area_id, data={"loan": loan.pk})
    return LoanEnded(loan.pk, tuple(scan.number for scan in scans))


def known_cards() -> tuple[str, ...]:
    """The kinds of card that some rule asks of people."""
    return tuple(dict.fromkeys(row.card for row in requirements() if row.who != "firm"))


def _check_hours(starts_at: datetime, ends_at: datetime) -> None:
    most = figure("most_awake_hours")
    if ends_at - starts_at > timedelta(hours=most):
        raise Unusable(f"A crew works {most} hours at most. Enter one loan for each shift.", where="ends_at")


def _check_vehicle(vehicle: LentVehicle) -> None:
    if not vehicle.name.strip() or not 0 < vehicle.payload_lb < vehicle.gvwr_lb or vehicle.cargo_cuft < 0:
        raise Unusable(
            "Name the vehicle; its payload is less than its rated weight (GVWR), in pounds.", where="vehicle"
        )
    if any(count < 0 for _, count in vehicle.capacity):
        raise Unusable("Say how many units of each kind the vehicle takes, 0 or more.", where="vehicle")


def _licenses(licenses: Iterable[LentCard]) -> tuple[LentCard, ...]:
    rows = tuple(dict.fromkeys(licenses))
    if wrong := [row for row in rows if len(row.state) != 2 or not row.kind.strip()]:
        raise Unusable(
            f"A license names its kind and one state, such as contractor WA: {wrong[0].kind}.", where="licenses"
        )
    return rows


def _vehicle(vehicle: LentVehicle, loan: Loan, base: Warehouse) -> Vehicle:
    row = Vehicle.objects.create(
        area_id=loan.area_id,
        code=f"loan-{loan.pk}",
        name=f"{vehicle.name.strip()}, {loan}"[:80],
        kind="lent vehicle",
        home=base,
        gvwr_lb=vehicle.gvwr_lb,
        payload_lb=vehicle.payload_lb,
        cargo_cuft=vehicle.cargo_cuft,
        capacity=dict(vehicle.capacity),
        loan=loan,
    )
    places.holder_for_vehicle(row.pk)
    return row


def _person(lent: LentPerson, part: str, key: UUID, base: Warehouse) -> Person:
    if not lent.name.strip() or not lent.phone.strip():
        raise Unusable(f"Give the {part}'s name and phone.", where=part)
    known = known_cards()
    cards = {(card.kind, card.state): card for card in lent.cards}
    if wrong := [card.kind for card in cards.values() if card.kind not in known]:
        raise Unusable(f"No rule asks for a card {wrong[0]!r}. Known are: {', '.join(known)}.", where=part)
    # Nobody can sign in with it until a manager sets a password; links and the desk answer for them till then.
    user = User.objects.create(
        username=f"lent-{key_for(key, part).hex[:12]}", password=f"{UNUSABLE_PASSWORD_PREFIX}lent"
    )
    leads = part == "lead"
    if leads:
        Membership.objects.create(user=user, area=base.area, role=access.CREW_LEAD)
    person = Person.objects.create(
        user=user,
        area=base.area,
        name=lent.name.strip()[:80],
        phone=lent.phone.strip()[:20],
        home=base,
        can_lead=leads,
        active=False,
    )
    Card.objects.bulk_create(
        Card(person=person, kind=card.kind, state=card.state, expires_on=card.expires_on) for card in cards.values()
    )
    return person
