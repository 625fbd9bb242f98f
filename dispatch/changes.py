"""What others changed since somebody last looked: from the journal, in plain words, a bounded list."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from django.contrib.auth.models import User

from dispatch.models import LastLook
from jobs.models import Area, JournalEntry
from jobs.refusals import NotThere
from jobs.use_case import use_case

MOST = 15
# Who never looked before sees the last shift.
FIRST_LOOK = timedelta(hours=12)
# Kinds of the journal that matter at the desk, each in plain words. What else is noted stands on the job's page.
WORDS = {
    "alarm_raised": "an alarm was raised",
    "another_time_agreed": "another time was agreed",
    "call_ended": "a call ended",
    "call_out_accepted": "the crew said yes and is leaving",
    "call_out_exhausted": "nobody on the call-out order answered",
    "call_out_started": "a crew was asked to go",
    "call_taken": "a call came in",
    "caller_joined": "another caller was joined",
    "caller_split": "a caller was taken off again",
    "could_not_work": "the crew could not work",
    "crew_arrived": "the crew arrived",
    "crew_late": "the crew runs late",
    "crew_left": "the crew is on the way",
    "crew_sent": "a crew was sent",
    "customer_waits": "the customer was told that nobody has answered yet",
    "job_authorized": "the work was authorized",
    "job_closed": "the job was closed",
    "billed_days_entered": "what was billed was entered",
    "job_joined": "the job was joined to another one of the same loss",
    "job_opened": "a new job",
    "jobs_split": "two joined jobs were split again",
    "lead_released": "a tired lead was released",
    "leads_word_set": "the lead decided against a suggestion",
    "not_told": "a customer could not be told",
    "plan_published": "a day plan was published",
    "plan_taken_back": "a day plan was taken back",
    "rule_overridden": "a manager overrode who may go",
    "start_moved": "an arrival time moved",
    "urgency_set": "a manager set the urgency",
    "vehicle_changed": "a vehicle changed",
    "visit_added": "a visit was added",
    "visit_finished": "a visit was finished",
    "visit_given": "a visit went to another crew",
    "visit_left_route": "a visit left its route",
    "visit_missed": "a visit was missed",
    "visits_canceled": "visits were canceled",
}


@dataclass(frozen=True)
class ChangedSince:
    """One thing that happened: when it was recorded, at which job or call, and who recorded it."""

    at: datetime
    what: str
    job_number: str
    place: str
    call_id: int | None
    by: str


@dataclass(frozen=True)
class Changes:
    """The newest changes by others since the last look; `more` are older ones that are not shown."""

    since: datetime
    until: datetime
    lines: tuple[ChangedSince, ...]
    more: int


@dataclass(frozen=True)
class Looked:
    """Up to when somebody has seen what changed."""

    at: datetime


def changes_since_look(*, area: Area, viewer: User, now: datetime) -> Changes:
    """What others changed in the area since the viewer last looked, the newest first (3 queries)."""
    look = LastLook.objects.filter(user=viewer, area=area).first()
    since = now - FIRST_LOOK if look is None else look.at
    rows = JournalEntry.objects.filter(area=area, kind__in=WORDS, recorded_at__gt=since, recorded_at__lte=now)
    rows = rows.exclude(actor=viewer)
    shown = rows.select_related("job", "actor").order_by("-recorded_at", "-pk")[:MOST]
    lines = tuple(
        ChangedSince(
            row.recorded_at,
            WORDS[row.kind],
            "" if row.job is None else row.job.number,
            "" if row.job is None else f"{row.job.town}, {row.job.state}",
            row.data.get("call"),
            row.actor.get_full_name() or row.actor.get_username(),
        )
        for row in shown
    )
    return Changes(since, now, lines, max(0, rows.count() - len(lines)))


@use_case("mark_looked")
def mark_looked(*, key: UUID, actor: User, now: datetime, area_id: int, until: datetime) -> Looked:
    """
    Keep up to when the actor has seen the area's changes; never earlier than before, never in the future.

    :raises NotThere: if there is no such area.
    """
    area = Area.objects.filter(pk=area_id).first()
    if area is None:
        raise NotThere(f"There is no area {area_id}.", where="area_id")
    look, _ = LastLook.objects.select_for_update().get_or_create(
        user=actor, area=area, defaults={"at": min(until, now)}
    )
    if look.at < min(until, now):
        look.at = min(until, now)
        look.save(update_fields=["at"])
    return Looked(look.at)
