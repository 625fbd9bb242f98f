"""What a step may read: a page's data by the page's name, for those who may enter the page's room."""

from collections import defaultdict
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.contrib.auth.models import User
from pydantic import BaseModel

from dispatch import changes, offering, overrides
from dispatch import wanted as wanted_work
from dispatch.crew import pages as crew_pages
from dispatch.desk import handover_pages, job_pages, night_pages, notice_pages, pages, plan_pages, release_pages
from dispatch.replay import manager_looks
from dispatch.replay.verbs import arguments_of
from dispatch.rota import pages as rota_pages
from equipment import selectors as equipment
from equipment.audit import audit
from equipment.models import UnitNow
from equipment.sizing_reports import report_for
from jobs import access, selectors
from jobs.drying_log import DryingLog, drying_log
from jobs.expected_dry import ExpectedDry, expected_dry
from jobs.models import Area, Call
from jobs.refusals import NotAllowed, NotThere

READY, IN_USE = "ready", "in_use"
Stock = dict[str, dict[str, dict[str, int]]]


@dataclass(frozen=True)
class Look:
    """One page: who may see it (by room), its arguments, and the function that reads it."""

    name: str
    rooms: frozenset[str]
    arguments: type[BaseModel]
    function: Callable[..., Any]

    def run(self, checked: BaseModel, *, viewer: User, now: datetime) -> Any:
        """
        The page's data.

        :raises NotAllowed: if none of the viewer's roles may enter a room that shows this page.
        """
        mine = access.roles_of(viewer)
        if access.SYSTEM not in mine and not any(room.word in self.rooms for room in access.rooms_of(viewer)):
            raise NotAllowed(f"{self.name} is shown in these rooms only: {', '.join(sorted(self.rooms))}.")
        given = {name: getattr(checked, name) for name in type(checked).model_fields}
        return self.function(viewer=viewer, now=now, **given)


def _area(area_id: int) -> Area:
    found = Area.objects.filter(pk=area_id).first()
    if found is None:
        raise NotThere(f"There is no area {area_id}.")
    return found


def board(*, viewer: User, now: datetime, area_id: int) -> pages.Board:
    return pages.board(area=_area(area_id), now=now)


def changed(*, viewer: User, now: datetime, area_id: int) -> changes.Changes:
    return changes.changes_since_look(area=_area(area_id), viewer=viewer, now=now)


def handover(*, viewer: User, now: datetime, area_id: int) -> handover_pages.HandoverSheet:
    return handover_pages.handover_sheet(area=_area(area_id), now=now)


def tonight(*, viewer: User, now: datetime, area_id: int) -> night_pages.NightBoard:
    return night_pages.night_board(area=_area(area_id), now=now)


def call(*, viewer: User, now: datetime, call_id: int) -> Any:
    return selectors.call_facts(call_id)


def estimate(*, viewer: User, now: datetime, call_id: int) -> dict[str, Any]:
    """The call's loss in the sizing port's words, and what it would take."""
    found = Call.objects.filter(pk=call_id).first()
    if found is None:
        raise NotThere(f"There is no call {call_id}.")
    told = wanted_work.loss_of(found)
    return {"loss": told, "report": report_for(told)}


def offers(*, viewer: User, now: datetime, call_id: int, stabilize: bool = False) -> offering.Offers:
    return offering.offers(call_id=call_id, now=now, stabilize=stabilize)


def overridden(*, viewer: User, now: datetime, area_id: int, since: datetime) -> tuple[overrides.Overridden, ...]:
    return overrides.overrides(area_id=area_id, since=since)


def notices(*, viewer: User, now: datetime, area_id: int) -> notice_pages.Notices:
    return notice_pages.notices(area=_area(area_id), now=now)


def releases(*, viewer: User, now: datetime, area_id: int) -> release_pages.ReleaseChoice:
    return release_pages.release_choice(area=_area(area_id), now=now)


def rota(*, viewer: User, now: datetime, area_id: int, day: date | None = None) -> rota_pages.RotaPage:
    return rota_pages.rota_page(area=_area(area_id), now=now, day=day)


def job(*, viewer: User, now: datetime, area_id: int, number: str) -> job_pages.JobPage | None:
    return job_pages.job_page(area_id=area_id, number=number, now=now)


def visits(*, viewer: User, now: datetime, job_id: int) -> Any:
    return selectors.visits_of(job_id)


def journal(*, viewer: User, now: datetime, job_id: int) -> Any:
    return selectors.journal_of(job_id)


def log(*, viewer: User, now: datetime, job_id: int) -> DryingLog:
    return drying_log(job_id)


def dry(*, viewer: User, now: datetime, job_id: int) -> ExpectedDry:
    return expected_dry(drying_log(job_id), now=now)


def plan(*, viewer: User, now: datetime, area_id: int, plan_id: int) -> plan_pages.PlanPage | None:
    return plan_pages.plan_page(area_id=area_id, plan_id=plan_id)


def my_day(*, viewer: User, now: datetime) -> crew_pages.DayPage | None:
    return crew_pages.day_page(user=viewer, now=now)


def my_asks(*, viewer: User, now: datetime) -> tuple[crew_pages.Ask, ...]:
    return crew_pages.asks(user=viewer)


def stock(*, viewer: User, now: datetime, area_id: int) -> Stock:
    """
    Numbered units by place and model: `{"north": {"AM": {"ready": 8, "in_use": 0, "not_ready": 0}}}`.

    A place is a warehouse's or vehicle's code, a job's number, or the word for where else a unit is.
    """
    found: Stock = defaultdict(lambda: defaultdict(lambda: {READY: 0, IN_USE: 0, "not_ready": 0}))
    rows = UnitNow.objects.filter(holder__area_id=area_id).select_related(
        "unit__model", "holder__warehouse", "holder__vehicle", "holder__job"
    )
    for row in rows.order_by("holder__kind", "holder_id", "unit__model__code"):
        holder = row.holder
        at = holder.warehouse or holder.vehicle
        place = at.code if at else holder.job.number if holder.job else holder.kind
        how = row.condition if row.condition in {READY, IN_USE} else "not_ready"
        found[place][row.unit.model.code][how] += 1
    return {place: dict(models) for place, models in found.items()}


def available(
    *,
    viewer: User,
    now: datetime,
    area_id: int,
    at: datetime | None = None,
    until: datetime | None = None,
    wanted: int = 1,
    model_id: int | None = None,
) -> tuple[equipment.Available, ...]:
    return equipment.availability(area_id=area_id, now=now, at=at, until=until, wanted=wanted, model_id=model_id)


def who_holds(*, viewer: User, now: datetime, pool_id: int) -> tuple[equipment.Holding, ...]:
    return equipment.who_holds(pool_id=pool_id, not_before=now)


def sources(
    *,
    viewer: User,
    now: datetime,
    area_id: int,
    model_id: int,
    wanted: int,
    lat: float,
    lon: float,
    starts_at: datetime,
    ends_at: datetime,
) -> tuple[equipment.Source, ...]:
    return equipment.where_can_i_get(
        area_id=area_id,
        wants=(equipment.Want(wanted, model_id=model_id),),
        lat=lat,
        lon=lon,
        starts_at=starts_at,
        ends_at=ends_at,
        now=now,
    )


def load_lists(*, viewer: User, now: datetime, warehouse_id: int) -> tuple[equipment.LoadListView, ...]:
    return equipment.load_lists(warehouse_id=warehouse_id, now=now)


def unit(*, viewer: User, now: datetime, number: str) -> equipment.UnitHistory:
    return equipment.unit_history(number)


def units_at_job(*, viewer: User, now: datetime, job_id: int) -> tuple[equipment.UnitAtJob, ...]:
    return equipment.units_at_job(job_id)


def returns(*, viewer: User, now: datetime, job_id: int, warehouse_id: int) -> equipment.ReturnsView:
    return equipment.back_from_job(job_id=job_id, warehouse_id=warehouse_id)


def cleaning(*, viewer: User, now: datetime, warehouse_id: int) -> tuple[equipment.UnitRow, ...]:
    return equipment.cleaning_queue(warehouse_id=warehouse_id, now=now)


def discrepancies(*, viewer: User, now: datetime, area_id: int) -> tuple[equipment.DiscrepancyView, ...]:
    return equipment.open_discrepancies(area_id=area_id)


def alarms(*, viewer: User, now: datetime, area_id: int) -> tuple[equipment.AlarmView, ...]:
    return equipment.open_alarms(area_id=area_id)


def ledgers(*, viewer: User, now: datetime) -> Any:
    """What the audit of both ledgers finds wrong; nothing, as a rule."""
    return audit()


_DESK = frozenset({"desk"})
_WAREHOUSE = frozenset({"desk", "warehouse"})
_ANY = frozenset({"desk", "warehouse", "crew"})
_CREW = frozenset({"crew"})
_MANAGER = frozenset({"manager"})


def _look(function: Callable[..., Any], rooms: frozenset[str], name: str = "") -> Look:
    name = name or function.__name__
    return Look(name, rooms, arguments_of(f"look_{name}", function, ("viewer", "now")), function)


LOOKS: Mapping[str, Look] = {
    look.name: look
    for look in (
        _look(board, _DESK),
        _look(changed, _DESK, "changes"),
        _look(handover, _DESK),
        _look(tonight, _DESK),
        _look(call, _DESK),
        _look(estimate, _DESK),
        _look(offers, _DESK),
        _look(overridden, _DESK, "overrides"),
        _look(job, _DESK),
        _look(notices, _DESK),
        _look(releases, _DESK),
        _look(rota, _DESK),
        _look(visits, _DESK),
        _look(journal, _DESK),
        _look(plan, _DESK),
        _look(log, _ANY, "drying_log"),
        _look(dry, _ANY, "expected_dry"),
        _look(my_day, _CREW),
        _look(my_asks, _CREW),
        _look(stock, _WAREHOUSE),
        _look(available, _WAREHOUSE, "availability"),
        _look(who_holds, _WAREHOUSE),
        _look(sources, _WAREHOUSE),
        _look(load_lists, _WAREHOUSE),
        _look(unit, _ANY),
        _look(units_at_job, _ANY),
        _look(returns, _WAREHOUSE),
        _look(cleaning, _WAREHOUSE),
        _look(discrepancies, _WAREHOUSE),
        _look(alarms, _WAREHOUSE),
        _look(ledgers, _WAREHOUSE),
        _look(manager_looks.manager, _MANAGER),
        _look(manager_looks.surge, _MANAGER),
        _look(manager_looks.loans, _MANAGER),
        _look(manager_looks.measures, _MANAGER),
        _look(manager_looks.measure, _MANAGER),
    )
}
