"""When days are planned by themselves: tomorrow every evening, and each day again before its first shift."""

from datetime import date, datetime, timedelta
from typing import Any
from uuid import uuid5

from django.db import transaction

from dispatch import crew_facts, planning
from dispatch.models import Crew
from jobs import due_work
from jobs.models import Area
from jobs.people import system_user

EVENING = "dispatch.evening_plan"
EVENING_HOUR = 19
MORNING = "dispatch.morning_plan"
# Long enough to look at what moved and to call those it concerns before the crews load.
BEFORE_FIRST_SHIFT = timedelta(minutes=60)


def evening_plan(*, now: datetime, work_id: int, area_id: int) -> dict[str, Any]:
    """Handler: plan and publish tomorrow, and be there again tomorrow evening."""
    area = Area.objects.get(pk=area_id)
    day = now.astimezone(area.zone).date() + timedelta(days=1)
    with transaction.atomic():
        keep_evenings(now=now + timedelta(hours=1), area=area)
        _plan(area, day, now=now, what="evening")
        keep_mornings(now=now, area=area)
    return {"day": day.isoformat()}


def morning_plan(*, now: datetime, work_id: int, area_id: int, day: str) -> dict[str, Any]:
    """
    Handler: plan the day again with all that came in overnight, and publish that.

    What the evening promised stays, unless moving it saves more than its price.
    """
    area = Area.objects.get(pk=area_id)
    with transaction.atomic():
        _plan(area, date.fromisoformat(day), now=now, what="morning")
        keep_mornings(now=now, area=area)
    return {"day": day}


def keep_evenings(*, now: datetime, area: Area) -> None:
    """See to it that the next evening's planning stands in the rows."""
    local = now.astimezone(area.zone)
    evening = local.replace(hour=EVENING_HOUR, minute=0, second=0, microsecond=0)
    if evening <= local:
        evening += timedelta(days=1)
    due_work.enqueue(
        kind=EVENING, arguments={"area_id": area.pk}, due_at=evening, now=now, coalesce=f"{EVENING}:{area.pk}"
    )


def keep_mornings(*, now: datetime, area: Area) -> None:
    """See to it that the next day whose first shift is still to come is planned again before it."""
    begun = Crew.objects.filter(area=area, starts_at__lte=now + BEFORE_FIRST_SHIFT).values("service_day")
    first = Crew.objects.filter(area=area).exclude(service_day__in=begun).order_by("starts_at").first()
    if first is None:
        return
    due_work.enqueue(
        kind=MORNING,
        arguments={"area_id": area.pk, "day": first.service_day.isoformat()},
        due_at=first.starts_at - BEFORE_FIRST_SHIFT,
        now=now,
        coalesce=f"{MORNING}:{area.pk}:{first.service_day}",
    )


def keep_all(*, now: datetime) -> None:
    """Standing work: the next planning of every area that has crews."""
    for area in Area.objects.filter(crews__isnull=False).distinct():
        keep_evenings(now=now, area=area)
        keep_mornings(now=now, area=area)


def register() -> None:
    """Let due work plan days by the clock."""
    due_work.register(EVENING, evening_plan)
    due_work.register(MORNING, morning_plan)
    due_work.register_standing(keep_all)


def _plan(area: Area, day: date, *, now: datetime, what: str) -> None:
    if crew_facts.crews_of_day(area_id=area.pk, day=day):
        planning.plan_day(
            key=uuid5(planning.NAMESPACE, f"{what} {area.pk} {day}"),
            actor=system_user(),
            now=now,
            area_id=area.pk,
            day=day,
            publish=True,
        )
