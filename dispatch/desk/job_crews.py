"""Who may go to a job that is open: every crew of tonight with what stands against it, and a manager's override."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID, uuid4
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from dispatch import agreed, crew_facts, managers_word
from dispatch.desk.views import area_of
from dispatch.overrides import Overridden
from dispatch.rules import bars
from jobs import access
from jobs.models import Job
from jobs.people import signed_in
from jobs.refusals import Refusal
from jobs.sent import key_of, whole


@dataclass(frozen=True)
class CrewForJob:
    """One crew: what stands against it, whether a manager may override that, and the override where there is one."""

    key: UUID
    crew_id: int
    crew: str
    people: str
    until: datetime
    reasons: tuple[str, ...]
    may_override: bool
    instead: str
    override: Overridden | None


@dataclass(frozen=True)
class JobCrews:
    """Everything on `/desk/jobs/NUMBER/crews`: the rules of who may go, not whether the route has room."""

    job_id: int
    number: str
    place: str
    zone: ZoneInfo
    skills: tuple[str, ...]
    crews: tuple[CrewForJob, ...]


def job_crews(*, area_id: int, number: str, now: datetime) -> JobCrews | None:
    """The crews at work now or soon, for one job; None if the area has no such job."""
    job = Job.objects.select_related("area").filter(area_id=area_id, number=number).first()
    if job is None:
        return None
    skills, _, _ = managers_word.work_of_job(job.pk)
    work = agreed.Work(skills, job.state, job_id=job.pk)
    rows = crew_facts.rows_of(crew_facts.crews_around(area_id=area_id, now=now), now=now)
    return JobCrews(
        job_id=job.pk,
        number=job.number,
        place=f"{job.street}, {job.town}, {job.state}",
        zone=job.area.zone,
        skills=tuple(skill.replace("_", " ").replace(":", " in ") for skill in skills),
        crews=tuple(_crew(row, work, now) for row in rows),
    )


def _crew(row: crew_facts.CrewRow, work: agreed.Work, now: datetime) -> CrewForJob:
    against = agreed.reasons(row, work, now=now)
    rules = [bars()[reason.rule] for reason in against]
    helper = f" and {row.crew.helper.name}" if row.crew.helper else ""
    return CrewForJob(
        key=uuid4(),
        crew_id=row.crew.pk,
        crew=row.crew.name,
        people=f"{row.crew.lead.name}{helper}",
        until=row.crew.at_latest,
        reasons=tuple(reason.message for reason in against),
        may_override=bool(rules) and all(rule.override for rule in rules),
        instead="; or ".join(dict.fromkeys(rule.instead for rule in rules if not rule.override)),
        override=agreed.word_for(row, work, now=now),
    )


@login_required
@require_http_methods(["GET", "POST"])
def crews(request: HttpRequest, number: str) -> HttpResponse:
    """`/desk/jobs/NUMBER/crews`; a manager overrides here what stands against a crew."""
    access.require_room(request.user, "desk")
    now, area = timezone.now(), area_of(request)
    page = job_crews(area_id=area.pk, number=number, now=now)
    if page is None:
        raise Http404(f"There is no job {number}.")
    timezone.activate(area.zone)
    context = {"page": page, "overrules": access.may(request.user, "override")}
    if request.method == "GET":
        return render(request, "dispatch/desk/job_crews.html", context)
    chosen = request.POST.get("crew_id", "")
    crew_id = whole(chosen) or 0
    try:
        said = managers_word.override(
            key=key_of(request),
            actor=signed_in(request.user),
            now=now,
            job_id=page.job_id,
            crew_id=crew_id,
            reason=request.POST.get("override_reason", ""),
        )
    except Refusal as refusal:
        context |= {"refusal": refusal, "typed": request.POST, "typed_crew": crew_id}
        return render(request, "dispatch/desk/job_crews.html", context, status=refusal.status)
    messages.success(request, f"{said.crew} may go to {number}. It is kept with your name.")
    return redirect("desk:job_crews", number)
