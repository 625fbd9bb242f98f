"""The rehearsed company, read from the tables by the program's own rules of who may do what."""

from collections import Counter, defaultdict
from datetime import date, datetime, timedelta

from django.db.models import Count

from dispatch import crew_facts, eligibility
from dispatch.crew_facts import CrewRow
from dispatch.planner.problem import Place
from dispatch.rehearsal.fleets import spread
from dispatch.rehearsal.setting import STATES
from dispatch.rehearsal.sim.facts import Company, Depot, Shift
from equipment.models import EquipmentModel, UnitNow, Warehouse
from equipment.own_catalogue import KINDS
from jobs.models import Area, PayerRule

NIGHT_FROM_S = 15 * 3600


def company_of(area: Area, day: date, *, weekend_share: float) -> Company:
    """
    The company as its crews of one day are, every day: those who begin by the afternoon partly rest on weekends.

    Machines that are ready count, at warehouses and aboard, by kind.
    """
    at_store: dict[str, Counter[str]] = defaultdict(Counter)
    aboard: dict[str, Counter[str]] = defaultdict(Counter)
    ready = UnitNow.objects.filter(holder__area=area, condition="ready", unit__model__kind__in=KINDS)
    for store, vehicle, kind, count in ready.values_list(
        "holder__warehouse__code", "holder__vehicle__code", "unit__model__kind"
    ).annotate(count=Count("pk")):
        if store:
            at_store[store][kind] += count
        elif vehicle:
            aboard[vehicle][kind] += count
    depots = tuple(
        Depot(Place(id=row.code, lat=row.lat, lon=row.lon), dict(at_store[row.code]), row.load_s)
        for row in Warehouse.objects.filter(area=area).order_by("code")
    )
    kinds = dict(EquipmentModel.objects.values_list("code", "kind"))
    midnight = datetime.combine(day, datetime.min.time(), tzinfo=area.zone)
    rows = crew_facts.rows_of(crew_facts.crews_of_day(area_id=area.pk, day=day), now=midnight)
    shifts, day_crews = [], 0
    for row in rows:
        by_day = (row.crew.starts_at - midnight).total_seconds() < NIGHT_FROM_S
        shifts.append(_shift(row, midnight, kinds, not by_day or spread(day_crews, weekend_share)))
        day_crews += by_day
    return Company(depots, tuple(shifts), {code: dict(units) for code, units in aboard.items()})


def _shift(row: CrewRow, midnight: datetime, kinds: dict[str, str], weekends: bool) -> Shift:
    crew = row.crew
    standing: Counter[str] = Counter()
    for model, count in crew.vehicle.standing_stock.items():
        if kinds.get(model) in KINDS:
            standing[kinds[model]] += count

    def second(moment: datetime) -> int:
        return round((moment - midnight) / timedelta(seconds=1))

    return Shift(
        crew=crew.name,
        people=tuple(person.name for person in (crew.lead, crew.helper) if person is not None),
        vehicle=crew.vehicle.code,
        home=crew.start.code,
        from_s=second(crew.starts_at),
        until_s=second(crew.ends_at),
        at_latest_s=second(crew.at_latest),
        skills=eligibility.able_to(row.facts, on=row.on, states=STATES),
        states=row.facts.firm_states,
        capacity={kind: int(count) for kind, count in crew.vehicle.capacity.items() if kind in KINDS},
        standing=dict(standing),
        weekends=weekends,
    )


def arrival_minutes(on: date) -> dict[str, int | None]:
    """Each payer's own clock for the arrival."""
    rules = PayerRule.objects.filter(valid_from__lte=on).order_by("valid_from")
    return dict(rules.values_list("payer__code", "arrival_minutes"))
