"""What was decided in a shift and why, about what is still open: each from the row that keeps it."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q

from dispatch.models import Crew
from equipment.leads_topics import topic_in_words
from jobs.models import Area, Job, JournalEntry, LeadsWord, PromiseEnd, UrgencyWord, Visit

_KINDS = ("crew_sent", "visit_given", "visit_missed", "could_not_work", "caller_joined", "caller_split")


@dataclass(frozen=True)
class Decision:
    """One decision: about which job or call, what, why, and whose."""

    at: datetime
    job_number: str
    call_id: int | None
    what: str
    why: str
    by: str


def decided_since(*, area: Area, since: datetime) -> tuple[Decision, ...]:
    """The decisions of an area from `since` on that concern open jobs and open calls, in order (6 queries)."""
    found = [*_journal(area, since), *_urgency(area, since), *_words(area, since), *_agreed(area, since)]
    return tuple(sorted(found, key=lambda one: (one.at, one.what)))


def _journal(area: Area, since: datetime) -> Iterator[Decision]:
    entries = list(
        JournalEntry.objects.filter(area=area, kind__in=_KINDS, recorded_at__gte=since)
        .exclude(job__stage=Job.Stage.CLOSED)
        .select_related("job", "actor")
    )
    crews = dict(
        Crew.objects.filter(
            pk__in={entry.data[name] for entry in entries for name in ("crew", "to_crew") if entry.data.get(name)}
        ).values_list("pk", "name")
    )
    visits = Visit.objects.in_bulk([entry.data["visit"] for entry in entries if entry.data.get("visit")])
    for entry in entries:
        data, visit = entry.data, visits.get(entry.data.get("visit", 0))
        what, why = entry.kind.replace("_", " "), ""
        if entry.kind == "crew_sent":
            what, why = f"{crews.get(data['crew'], 'a crew')} sent", data.get("because", "")
        elif entry.kind == "visit_given":
            what = f"visit given to {crews.get(data['to_crew'], 'another crew')}"
        elif visit is not None:
            what = f"{visit.get_kind_display()} {visit.get_state_display()}"
            why = visit.reason + (f"; told: {visit.told}" if visit.told else "")
        number = "" if entry.job is None else entry.job.number
        yield Decision(entry.happened_at, number, None, what, why, _who(entry.actor))


def _urgency(area: Area, since: datetime) -> Iterator[Decision]:
    rows = UrgencyWord.objects.filter(Q(call__job__isnull=False) | Q(call__ended_at__isnull=True), said_at__gte=since)
    for row in (
        rows.filter(call__area=area).exclude(call__job__stage=Job.Stage.CLOSED).select_related("call__job", "said_by")
    ):
        number = "" if row.call.job is None else row.call.job.number
        instead = f" instead of {row.suggestion}" if row.suggestion and row.suggestion != row.level else ""
        yield Decision(row.said_at, number, row.call_id, f"{row.level}{instead}", row.reason, _who(row.said_by))


def _words(area: Area, since: datetime) -> Iterator[Decision]:
    rows = LeadsWord.objects.filter(job__area=area, said_at__gte=since).exclude(job__stage=Job.Stage.CLOSED)
    for row in rows.select_related("job", "said_by"):
        suggested = "" if row.suggestion is None else f" (suggested: {row.suggestion})"
        what = f"{topic_in_words(row.topic)}: {row.word}{suggested}"
        yield Decision(row.said_at, row.job.number, None, what, row.reason, _who(row.said_by))


def _agreed(area: Area, since: datetime) -> Iterator[Decision]:
    rows = PromiseEnd.objects.filter(promise__area=area, recorded_at__gte=since, why="agreed_another_time")
    rows = rows.filter(Q(promise__job__isnull=False) | Q(promise__call__ended_at__isnull=True))
    rows = rows.exclude(promise__job__stage=Job.Stage.CLOSED)
    for row in rows.select_related("promise__job", "promise__replaced_by", "actor", "agreed_with"):
        promise = row.promise
        until = promise.replaced_by.due_at.astimezone(area.zone)
        what = f"{promise.get_kind_display()} agreed for {until:%a %b} {until.day}, {until:%I:%M %p}".replace(" 0", " ")
        who = row.agreed_with.name if hasattr(row, "agreed_with") else ""
        number = "" if promise.job is None else promise.job.number
        yield Decision(row.happened_at, number, promise.call_id, what, who and f"with {who}", _who(row.actor))


def _who(user: object) -> str:
    return user.get_full_name() or user.get_username()  # type: ignore[attr-defined]
