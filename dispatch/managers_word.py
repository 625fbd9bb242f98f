"""A manager sends a crew against a rule: with a name and a reason, where the rule allows it at all."""

from collections.abc import Sequence
from dataclasses import asdict
from datetime import datetime
from uuid import UUID

from django.contrib.auth.models import User

from dispatch import crew_facts, eligibility
from dispatch.eligibility import Reason
from dispatch.models import Crew, Override
from dispatch.overrides import Overridden, OverriddenRule, one
from dispatch.rules import bars
from dispatch.wanted import wanted_of_call
from jobs import intake, journal
from jobs.models import Job, Visit
from jobs.refusals import NotThere, Refusal, Unusable
from jobs.use_case import use_case


class OverrideNeedsReason(Refusal):
    """Who sends a crew against a rule says why."""

    code = "override_needs_reason"
    status = 422


class NothingToOverride(Refusal):
    """No rule of who may go keeps the crew from this work."""

    code = "nothing_to_override"


class NotForAManager(Refusal):
    """At least one of the reasons is one that no manager may override; what would be right stands in the message."""

    code = "no_override"


@use_case("override", private=("reason",))
def override(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    crew_id: int,
    reason: str,
    call_id: int | None = None,
    job_id: int | None = None,
    until: datetime | None = None,
) -> Overridden:
    """
    Let a crew go to one loss in spite of every reason that stands against it now.

    :param call_id: the call, while it is open; else name the job.
    :param until: how long the word holds; at most, and if left out, to the latest hour of the crew.
    :raises OverrideNeedsReason: without a reason.
    :raises NothingToOverride: if no rule keeps the crew from going.
    :raises NotForAManager: if a rule stands against it that no manager may override.
    """
    if not reason.strip():
        raise OverrideNeedsReason("Say in a few words why this crew is sent all the same.", where="override_reason")
    if (call_id is None) == (job_id is None):
        raise Unusable("Name either the call or the job that the crew is for.", where="job_id")
    crew = Crew.objects.select_related("area", "lead", "helper", "vehicle", "start", "end").filter(pk=crew_id).first()
    if crew is None:
        raise NotThere(f"There is no crew {crew_id}.", where="crew_id")
    ends = _until(crew, until, now)
    wanted, state, job = work_of_job(job_id) if job_id is not None else _work_of_call(call_id or 0, now)
    reasons = reasons_against(crew, wanted, state, now=now)
    _may_be_overridden(crew, reasons)
    row = Override.objects.create(
        area_id=crew.area_id,
        call_id=call_id,
        job=job,
        crew=crew,
        lead_id=crew.lead_id,
        helper_id=crew.helper_id,
        rules=[asdict(OverriddenRule(reason.rule, reason.who, reason.message)) for reason in reasons],
        reason=reason.strip()[:300],
        said_by=actor,
        said_at=now,
        until=ends,
    )
    data = {"override": row.pk, "crew": crew.pk, "call": call_id, "rules": sorted({one.rule for one in reasons})}
    journal.note(kind="rule_overridden", actor=actor, now=now, job=job, area_id=crew.area_id, data=data)
    return one(row.pk)


def reasons_against(crew: Crew, wanted: Sequence[str], state: str, *, now: datetime) -> tuple[Reason, ...]:
    """Every reason that stands against the crew for this work, overridden or not."""
    row = crew_facts.rows_of([crew], now=now)[0]
    return eligibility.all_reasons(row.facts, wanted, state, on=row.on, at=max(now, crew.starts_at))


def _until(crew: Crew, until: datetime | None, now: datetime) -> datetime:
    if crew.at_latest <= now:
        raise Unusable(f"The hours of {crew.name} are over. Choose a crew that is at work.", where="crew_id")
    if until is not None and not now < until <= crew.at_latest:
        latest = crew.at_latest.astimezone(crew.area.zone)
        raise Unusable(f"Choose a time from now to {latest:%b %-d, %-I:%M %p}, when the crew ends.", where="until")
    return until or crew.at_latest


def _work_of_call(call_id: int, now: datetime) -> tuple[tuple[str, ...], str, None]:
    call = intake.locked_call(call_id)
    if call.ended_at is not None:
        raise intake.CallOver("This call has ended. Name the job that it became.", call=call_id)
    wanted, _ = wanted_of_call(call, now)
    return wanted.skills, wanted.state, None


def work_of_job(job_id: int) -> tuple[tuple[str, ...], str, Job]:
    """What the visits ahead of a job ask for, its state and the job."""
    job = Job.objects.filter(pk=job_id).first()
    if job is None:
        raise NotThere(f"There is no job {job_id}.", where="job_id")
    ahead = Visit.objects.filter(job=job, state__in=[Visit.State.DUE, Visit.State.UNDER_WAY])
    skills = [skill for visit in ahead.order_by("pk") for skill in visit.needs.get("skills", ["water"])]
    return tuple(dict.fromkeys(skills)) or ("water",), job.state, job


def _may_be_overridden(crew: Crew, reasons: Sequence[Reason]) -> None:
    if not reasons:
        raise NothingToOverride(
            f"No rule keeps {crew.name} from this work, so there is nothing to override. "
            "If it is not offered, time, distance or equipment is the reason: choose another crew.",
            crew_id=crew.pk,
        )
    barred = [reason for reason in reasons if not bars()[reason.rule].override]
    if barred:
        told = " ".join(f"{reason.message} ({bars()[reason.rule].source})" for reason in barred)
        instead = "; or ".join(dict.fromkeys(bars()[reason.rule].instead for reason in barred))
        raise NotForAManager(
            f"No manager may override this: {told}. What would be right: {instead}.",
            crew_id=crew.pk,
            rules=[
                {"rule": reason.rule, "who": reason.who, "instead": bars()[reason.rule].instead} for reason in barred
            ],
        )
