"""What can be read of calls, jobs, people and visits."""

from datetime import date

from django.contrib.auth.models import User
from django.db.models import Q, QuerySet

from jobs import access
from jobs.calls.answers import missing_to_send, place_of
from jobs.facts import (
    AreaLine,
    CallFacts,
    ContactLine,
    JobFacts,
    JobLine,
    JournalLine,
    OpenCall,
    Private,
    RoomLine,
    RuleLine,
    VisitLine,
)
from jobs.intake import CallNotThere
from jobs.models import Area, Call, Contact, Job, JournalEntry, Payer, PrivateFacts, StateRule, Visit
from jobs.phones import standard
from jobs.visits import OPEN, JobNotThere

OPEN_STAGES = tuple(stage for stage in Job.Stage.values if stage != Job.Stage.CLOSED)


def areas() -> tuple[AreaLine, ...]:
    """Every service area, by name (1 query)."""
    return tuple(_area(area) for area in Area.objects.order_by("name"))


def area_ids_of(viewer: User) -> frozenset[int] | None:
    """The areas of the viewer's roles; None for all of them."""
    return access.areas_of(viewer)


def open_calls(*, area_ids: frozenset[int] | None = None) -> tuple[OpenCall, ...]:
    """Calls that have not ended, the one that waits longest first (1 query)."""
    rows = Call.objects.filter(ended_at__isnull=True).select_related("taken_by", "owner").order_by("started_at", "pk")
    if area_ids is not None:
        rows = rows.filter(area_id__in=area_ids)
    return tuple(
        OpenCall(
            call.pk,
            call.area_id,
            call.started_at,
            _who(call.taken_by),
            call.private_answers.get("callback_number", ""),
            call.private_answers.get("caller_name", ""),
            ", ".join(str(call.answers[part]) for part in ("street", "town", "state") if call.answers.get(part)),
            call.next_contact_at,
            _who(call.owner),
            call.touched_at,
        )
        for call in rows
    )


def call_facts(call_id: int) -> CallFacts:
    """
    One call as it stands (1 query).

    :raises CallNotThere: if there is none.
    """
    call = Call.objects.select_related("area", "taken_by", "owner", "job").filter(pk=call_id).first()
    if call is None:
        raise CallNotThere(f"There is no call {call_id}. Open the list of calls and choose one.", call=call_id)
    return CallFacts(
        call.pk,
        _area(call.area),
        call.started_at,
        _who(call.taken_by),
        _who(call.owner),
        {**call.answers, **call.private_answers},
        dict(call.versions),
        tuple(call.rooms),
        place_of(call),
        missing_to_send(call),
        call.next_contact_at,
        call.ended_at,
        call.ended_as,
        call.end_reason,
        call.job_id,
        call.job.number if call.job else "",
    )


def jobs(
    *, stages: tuple[str, ...] = OPEN_STAGES, area_ids: frozenset[int] | None = None, limit: int | None = None
) -> tuple[JobLine, ...]:
    """Jobs at these stages, newest first (1 query)."""
    rows = Job.objects.filter(stage__in=stages).select_related("payer").order_by("-opened_at", "-pk")
    if area_ids is not None:
        rows = rows.filter(area_id__in=area_ids)
    return tuple(_line(job) for job in rows[:limit])


def job_facts(job_id: int) -> JobFacts:
    """
    One job without its private facts (3 queries).

    :raises JobNotThere: if there is none.
    """
    job = Job.objects.select_related("payer").prefetch_related("chambers__rooms").filter(pk=job_id).first()
    if job is None:
        raise JobNotThere(f"There is no job with the id {job_id}. Choose one from the list of jobs.", job=job_id)
    return JobFacts(
        _line(job),
        job.zip_code,
        job.elevation_ft,
        job.water_source,
        job.get_running_display(),
        job.get_power_display(),
        job.building,
        job.year_built,
        job.dwelling_units,
        job.began_at,
        tuple(job.hazards),
        job.language,
        tuple(job.circuits),
        job.claim_number,
        job.referred_by,
        job.authorized_at,
        job.authorized_limits,
        job.closed_at,
        tuple(
            RoomLine(chamber.name, room.name, dict(room.measures))
            for chamber in job.chambers.all()
            for room in chamber.rooms.all()
        ),
    )


def jobs_of_phone(phone: str) -> tuple[JobLine, ...]:
    """Open jobs whose people have this number (1 query): the fifth call needs no truck."""
    known = Q(contacts__phone=standard(phone))
    rows = Job.objects.filter(known, stage__in=OPEN_STAGES).select_related("payer").distinct().order_by("-opened_at")
    return tuple(_line(job) for job in rows)


def contacts(job_id: int) -> tuple[ContactLine, ...]:
    """The people of a job (1 query)."""
    rows = Contact.objects.filter(job_id=job_id).order_by("pk")
    return tuple(ContactLine(row.pk, row.role, row.name, row.phone, row.can_sign, row.lets_in) for row in rows)


def private_facts(*, viewer: User, job_id: int, on_the_job: bool = False) -> Private:
    """
    Access codes and care notes, for the desk; for a crew lead only while on the job, which the caller knows.

    :raises NotAllowed: for everybody else.
    """
    desk = access.roles_of(viewer) & {access.DISPATCHER, access.MANAGER, access.SYSTEM}
    if not desk and not (on_the_job and access.CREW_LEAD in access.roles_of(viewer)):
        raise access.NotAllowed("Access and care are shown to the desk and to the crew on the job. Ask the desk.")
    row = PrivateFacts.objects.filter(job_id=job_id).first()
    return Private(row.access, row.care, row.erased_at) if row else Private("", "", None)


def visits_of(job_id: int) -> tuple[VisitLine, ...]:
    """A job's visits, oldest first (1 query)."""
    return _visits(Visit.objects.filter(job_id=job_id))


def visits_due(*, day: date, area_id: int | None = None) -> tuple[VisitLine, ...]:
    """Visits due or under way on a day or before it (1 query)."""
    rows = Visit.objects.filter(state__in=OPEN, due_on__lte=day)
    return _visits(rows if area_id is None else rows.filter(job__area_id=area_id))


def journal_of(job_id: int) -> tuple[JournalLine, ...]:
    """What happened at a job, in order (1 query)."""
    rows = JournalEntry.objects.filter(job_id=job_id).select_related("actor").order_by("happened_at", "pk")
    return tuple(JournalLine(row.kind, row.happened_at, row.recorded_at, _who(row.actor), row.data) for row in rows)


def payers() -> tuple[str, ...]:
    """The names of those who pay, for a list to choose from (1 query)."""
    return tuple(Payer.objects.order_by("name").values_list("name", flat=True))


def _visits(rows: QuerySet[Visit]) -> tuple[VisitLine, ...]:
    return tuple(
        VisitLine(
            row.pk,
            row.job_id,
            row.job.number,
            row.kind,
            row.get_kind_display(),
            row.state,
            row.get_state_display(),
            row.due_on,
            row.window_from,
            row.window_until,
            row.due_at,
            row.promised_start,
            row.service_s,
            row.needs,
            row.note,
            row.left_at,
            row.arrived_at,
            row.finished_at,
            row.reason,
        )
        for row in rows.select_related("job").order_by("due_on", "pk")
    )


def _line(job: Job) -> JobLine:
    return JobLine(
        job.pk,
        job.number,
        job.area_id,
        job.stage,
        job.get_stage_display(),
        job.street,
        job.unit,
        job.town,
        job.state,
        job.county,
        job.time_zone,
        job.lat,
        job.lon,
        job.category,
        job.payer.name if job.payer else "",
        job.opened_at,
    )


def _area(area: Area) -> AreaLine:
    return AreaLine(area.pk, area.code, area.name, area.time_zone, area.phone)


def _who(user: User) -> str:
    return user.get_full_name() or user.get_username()


def state_rule(*, state: str, topic: str, on: date) -> RuleLine | None:
    """The state's rule on a topic as it holds on a day; the newest if there are several (1 query)."""
    rows = StateRule.objects.filter(state=state, topic=topic, valid_from__lte=on)
    row = rows.filter(Q(valid_until__isnull=True) | Q(valid_until__gt=on)).order_by("-valid_from").first()
    return RuleLine(row.topic, row.value, row.source, row.confidence, row.note) if row else None
