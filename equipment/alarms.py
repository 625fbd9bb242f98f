"""Raising and settling what must be looked at."""

from datetime import datetime
from uuid import UUID

from django.contrib.auth.models import User

from equipment.models import Alarm
from jobs import journal
from jobs.models import Job
from jobs.refusals import NotThere
from jobs.use_case import use_case


def raise_alarm(*, kind: str, text: str, area_id: int, actor: User, now: datetime, job: Job | None = None) -> Alarm:
    """Raise an alarm in the caller's transaction; the same text that is still open is not said twice."""
    text = text[:300]
    known = Alarm.objects.filter(kind=kind, text=text, area_id=area_id, settled_at=None).first()
    if known is not None:
        return known
    alarm = Alarm.objects.create(area_id=area_id, kind=kind, text=text, job=job, raised_at=now)
    journal.note(
        kind="alarm_raised", actor=actor, now=now, job=job, area_id=area_id, data={"alarm": alarm.pk, "kind": kind}
    )
    return alarm


def end_alarm(*, kind: str, text: str, area_id: int, actor: User, now: datetime, what_was_done: str) -> int:
    """End an alarm in the caller's transaction, because what it is about is over; how many were open."""
    found = Alarm.objects.filter(kind=kind, text=text[:300], area_id=area_id, settled_at=None)
    return found.update(settled_at=now, settled_by=actor, what_was_done=what_was_done[:300])


@use_case("settle_alarm")
def settle_alarm(*, key: UUID, actor: User, now: datetime, alarm_id: int, what_was_done: str) -> int:
    """
    Say what was done about an alarm, which ends it.

    :raises NotThere: if there is no such alarm.
    """
    alarm = Alarm.objects.select_for_update().filter(pk=alarm_id).first()
    if alarm is None:
        raise NotThere(f"There is no alarm {alarm_id}. Look at the list again.")
    if alarm.settled_at is None:
        alarm.settled_at, alarm.settled_by, alarm.what_was_done = now, actor, what_was_done[:300]
        alarm.save(update_fields=["settled_at", "settled_by", "what_was_done"])
    return alarm.pk
