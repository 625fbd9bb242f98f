"""One month with little in it, written row by row so that each measure can be worked by hand."""

from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from uuid import uuid4
from zoneinfo import ZoneInfo

from dispatch.measures.cases import Span
from dispatch.models import CallOut, CallOutStep, Stop, WorkSpell
from equipment import places
from equipment.models import Condition, EquipmentModel, Holder, Move, Unit
from jobs.models import Call, Job, MaterialPoint, MaterialReading, Promise, PromiseEnd, Visit
from tests.dispatch.night import Night

ZONE = ZoneInfo("America/Los_Angeles")
NOW = datetime(2026, 3, 20, 12, tzinfo=UTC)


def at(day: int, hour: float = 0.0) -> datetime:
    """A time in March 2026, by the wall clock of Portland."""
    midnight = datetime.combine(date(2026, 3, 1) + timedelta(days=day - 1), time(), ZONE)
    return (midnight.astimezone(UTC) + timedelta(hours=hour)).astimezone(UTC)


class Month:
    """Rows of one area; each method writes what its name says."""

    def __init__(self, night: Night) -> None:
        self.night, self.area, self.desk = night, night.cast.area, night.dispatcher
        self.made = 0

    @property
    def span(self) -> Span:
        return Span.month(area_id=self.area.pk, zone=ZONE, year=2026, month=3, now=NOW)

    def job(self, opened_at: datetime = NOW, **facts: Any) -> Job:
        return self.night.cast.job(opened_at=opened_at, **facts)

    def call(self, rang_at: datetime, job: Job | None = None, **facts: Any) -> Call:
        ended = {"ended_at": rang_at + timedelta(minutes=30), "ended_as": Call.EndedAs.SENT} if job else {}
        return Call.objects.create(
            area=self.area,
            started_at=rang_at,
            taken_by=self.desk,
            owner=self.desk,
            touched_at=rang_at,
            job=job,
            **{**ended, **facts},
        )

    def promise(
        self, kind: str, due_at: datetime, end: str = "", ended_at: datetime | None = None, **of: Any
    ) -> Promise:
        row = Promise.objects.create(
            area=self.area, kind=kind, basis="test", starts_at=due_at - timedelta(hours=4), due_at=due_at, **of
        )
        if end:
            when = ended_at or due_at
            PromiseEnd.objects.create(
                promise=row, end=end, happened_at=when, recorded_at=when, actor=self.desk, why="test"
            )
        return row

    def visit(self, job: Job, on: date, **facts: Any) -> Visit:
        return self.night.visit(job, **{"due_on": on, **facts})

    def stop(self, visit: Visit) -> Stop:
        begins = visit.arrived_at or NOW
        return Stop.objects.create(
            crew=self.night.ready, visit=visit, position=visit.pk, arrive_at=begins, start_at=begins, leave_at=begins
        )

    def called_out(self, visit: Visit, began: datetime, yes_at: datetime | None, state: str) -> CallOut:
        row = CallOut.objects.create(
            area=self.area, visit=visit, crew=self.night.ready, state=state, started_at=began, ended_at=yes_at or began
        )
        CallOutStep.objects.create(
            call_out=row,
            number=1,
            person=self.night.ready.lead,
            asked_at=began,
            answer_by=began + timedelta(minutes=5),
            answer=CallOutStep.Answer.LEAVING if yes_at else CallOutStep.Answer.SILENT,
            answered_at=yes_at,
        )
        return row

    def worked(self, begins: datetime, ends: datetime | None) -> WorkSpell:
        return WorkSpell.objects.create(person=self.night.ready.lead, starts_at=begins, ends_at=ends)

    def unit(self, number: str) -> Unit:
        model, _ = EquipmentModel.objects.get_or_create(
            code="heater",
            defaults={"name": "Heater", "kind": "heater", "running_a": 12, "volume_cuft": 2, "weight_lb": 20}
            | {"replacement_cost": 400},
        )
        return Unit.objects.create(number=number, model=model)

    def move(self, unit: Unit, to: Holder, when: datetime, why: str = Move.Why.PLACED, **facts: Any) -> Move:
        return Move.objects.create(
            key=uuid4(),
            unit=unit,
            why=why,
            to_holder=to,
            condition_after=Condition.IN_USE if to.kind == Holder.Kind.JOB else Condition.READY,
            happened_at=when,
            recorded_at=when,
            actor=self.desk,
            **facts,
        )

    def warehouse(self) -> Holder:
        return places.holder_for_warehouse(self.night.cast.north.pk)

    def point(self, job: Job, room: str, *readings: tuple[datetime, float], goal: float = 12.0) -> None:
        number = MaterialPoint.objects.filter(job=job).count() + 1
        point = MaterialPoint.objects.create(
            job=job,
            number=number,
            room_name=room,
            place="wall",
            material="drywall",
            meter="pin",
            scale="wood",
            dry_standard=goal - 2,
            goal=goal,
        )
        visit = self.visit(job, readings[0][0].date(), state=Visit.State.CANCELED)
        for when, value in readings:
            MaterialReading.objects.create(
                visit=visit, taken_at=when, recorded_at=when, taken_by=self.desk, key=uuid4(), point=point, value=value
            )
