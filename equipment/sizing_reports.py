"""Sizing a loss for the desk and the job page, and keeping each report as it was said."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.contrib.auth.models import User

from equipment.models import SizingReport
from equipment.own_catalogue import catalogue_for_job
from equipment.sizing.port import size_document
from equipment.sizing.refused import LossRefused
from equipment.sizing.report import Report
from jobs import loss as losses
from jobs.models import Job
from jobs.refusals import NotThere, Refusal
from jobs.use_case import use_case


class LossUnusable(Refusal):
    """The loss, as told, cannot be sized; `where` names the measure that cannot be."""

    code = "loss_unusable"
    status = 422


class NothingToSize(Refusal):
    """The job has no room with measures yet, so that no equipment can be suggested."""

    code = "nothing_to_size"
    status = 422


@dataclass(frozen=True)
class ReportMade:
    """A kept report."""

    sizing_id: int
    report: dict[str, Any]


@dataclass(frozen=True)
class KeptReport:
    """The newest report of a job, as it was said then."""

    sizing_id: int
    made_at: datetime
    made_by: str
    loss: dict[str, Any]
    report: dict[str, Any]


def sized(loss: dict[str, Any]) -> Report:
    """
    The port's report of a loss; nothing is kept.

    :raises LossUnusable: if the loss cannot be sized.
    """
    try:
        return size_document(loss)
    except LossRefused as refused:
        raise LossUnusable(refused.message, where=refused.where, sizing_code=refused.code) from refused


def report_for(loss: dict[str, Any]) -> dict[str, Any]:
    """
    The same as a document.

    :raises LossUnusable: if the loss cannot be sized.
    """
    return sized(loss).as_document()


def newest_report(job_id: int) -> KeptReport | None:
    """The job's newest report, or None while it was never sized (1 query)."""
    rows = SizingReport.objects.filter(job_id=job_id).select_related("made_by")
    row = rows.order_by("-made_at", "-pk").first()
    if row is None:
        return None
    who = row.made_by.get_full_name() or row.made_by.get_username()
    return KeptReport(row.pk, row.made_at, who, row.loss, row.report)


@use_case("estimate")
def make_report(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    loss: dict[str, Any],
    call_id: int | None = None,
    job_id: int | None = None,
) -> ReportMade:
    """
    Size a loss and keep the report for its call or its job; what was kept before stays.

    :raises LossUnusable: if the loss cannot be sized.
    """
    report = report_for(loss)
    row = SizingReport.objects.create(
        call_id=call_id,
        job_id=job_id,
        loss=loss,
        report=report,
        rules=str(report["rules"])[:120],
        made_at=now,
        made_by=actor,
    )
    return ReportMade(row.pk, report)


@use_case("size_job")
def size_job(*, key: UUID, actor: User, now: datetime, job_id: int) -> ReportMade:
    """
    Size a job by its rooms, category and classes as they are now, against what the area has free and the job holds.

    What was suggested before stays. An area without machines of its own is sized by the reference catalogue.

    :raises NotThere: if there is no such job.
    :raises NothingToSize: if no room of it is known.
    :raises LossUnusable: if a measure cannot be.
    """
    job = Job.objects.filter(pk=job_id).first()
    if job is None:
        raise NotThere(f"There is no job with the id {job_id}. Choose one from the list of jobs.", where="job_id")
    loss = losses.of_job(job, now=now)
    if not loss["chambers"]:
        raise NothingToSize("No room of this job is known yet. Measure one, then size again.")
    loss["catalogue"] = catalogue_for_job(job_id=job.pk, area_id=job.area_id, now=now)
    return make_report(key=key, actor=actor, now=now, loss=loss, job_id=job.pk)
