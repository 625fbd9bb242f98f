"""What other firms have lent: each crew held against the same rules as ours, each model of units on its own."""

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from dispatch import agreed, crew_facts
from equipment.models import Holder, Loan, Pool, Unit
from equipment.reservations import book
from equipment.stock.availability import peak_use
from jobs.models import Area

# The work of every call; what more a loss asks for is held against the crew when it is offered.
PLAIN = ("water",)


@dataclass(frozen=True)
class LentCrewLine:
    """A lent crew: `may_go` the states in which it may do water work, `why_not` what stands against it elsewhere."""

    crew: str
    people: str
    vehicle: str
    may_go: tuple[str, ...]
    why_not: tuple[str, ...]


@dataclass(frozen=True)
class LentPlace:
    """Lent units at one place: `pool_id` is what they are reserved from, `free` of `stock` are promised to nobody."""

    pool_id: int
    place: str
    stock: int
    free: int


@dataclass(frozen=True)
class LentUnitsLine:
    """Lent units of one model, with where they are and their numbers (ours, theirs)."""

    model: str
    places: tuple[LentPlace, ...]
    at_jobs: tuple[tuple[str, int], ...]
    numbers: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class LoanLine:
    """A loan that was not ended. `over`: its hours are over, and it waits to be ended."""

    loan_id: int
    firm: str
    agreed_with: str
    agreed_by: str
    agreed_at: datetime
    starts_at: datetime
    ends_at: datetime
    over: bool
    crews: tuple[LentCrewLine, ...]
    units: tuple[LentUnitsLine, ...]


@dataclass(frozen=True)
class Loans:
    """The loans of one area that were not ended, the next to end first."""

    area: str
    zone: ZoneInfo
    now: datetime
    lines: tuple[LoanLine, ...]


def loans(*, area: Area, now: datetime) -> Loans:
    """A fixed number of queries, however much is lent."""
    rows = list(Loan.objects.filter(area=area, ended_at=None).select_related("agreed_by").order_by("ends_at", "pk"))
    crews, units = _crews(area, rows, now), _units(rows, now)
    lines = tuple(
        LoanLine(
            loan.pk,
            loan.firm,
            loan.agreed_with,
            loan.agreed_by.get_full_name() or loan.agreed_by.username,
            loan.agreed_at,
            loan.starts_at,
            loan.ends_at,
            loan.ends_at <= now,
            tuple(crews[loan.pk]),
            tuple(units[loan.pk]),
        )
        for loan in rows
    )
    return Loans(area.name, area.zone, now, lines)


def _crews(area: Area, rows: Sequence[Loan], now: datetime) -> dict[int, list[LentCrewLine]]:
    found: dict[int, list[LentCrewLine]] = defaultdict(list)
    if not rows:
        return found
    states = sorted({license.state for license in area.licenses.all()})
    for row in crew_facts.rows_of(crew_facts.lent_crews(area_id=area.pk), now=now):
        against = {
            state: [reason.message for reason in agreed.reasons(row, agreed.Work(PLAIN, state), now=now)]
            for state in states
        }
        line = LentCrewLine(
            row.crew.name,
            " with ".join(member.name for member in row.facts.members),
            row.crew.vehicle.name,
            tuple(state for state, reasons in against.items() if not reasons),
            tuple(dict.fromkeys(reason for reasons in against.values() for reason in reasons)),
        )
        found[row.crew.loan_id or 0].append(line)
    return found


def _units(rows: Sequence[Loan], now: datetime) -> dict[int, list[LentUnitsLine]]:
    found: dict[int, list[LentUnitsLine]] = defaultdict(list)
    if not rows:
        return found
    pools = list(
        Pool.objects.filter(model__loan__in=rows).select_related("place__vehicle").order_by("place__name", "pk")
    )
    used = book.uses({pool.pk for pool in pools}, now=now, not_before=now)
    until = {loan.pk: loan.ends_at for loan in rows}
    units: dict[int, list[Unit]] = defaultdict(list)
    lent = Unit.objects.filter(model__loan__in=rows, called_off_at=None).select_related("model", "now__holder")
    for unit in lent.order_by("model__code", "number"):
        units[unit.model_id].append(unit)
    for model_id, mine in units.items():
        loan_id = mine[0].model.loan_id or 0
        places = tuple(
            LentPlace(
                pool.pk,
                str(pool.place),
                pool.stock,
                book.usable_stock(pool) - peak_use(used[pool.pk], now, max(until[loan_id], now)),
            )
            for pool in pools
            if pool.model_id == model_id
        )
        at_jobs = Counter(str(unit.now.holder) for unit in mine if unit.now.holder.kind == Holder.Kind.JOB)
        found[loan_id].append(
            LentUnitsLine(
                mine[0].model.name,
                places,
                tuple(sorted(at_jobs.items())),
                tuple((unit.number, unit.supplier_number) for unit in mine),
            )
        )
    return found
