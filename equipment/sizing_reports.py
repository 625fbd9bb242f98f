"""Sizing a loss for the desk and the job page, and keeping each report as it was said."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.contrib.auth.models import User

from equipment.models import SizingReport
from equipment.sizing.port import size_document
from equipment.sizing.refused import LossRefused
from jobs.refusals import Refusal
from jobs.use_case import use_case


class LossUnusable(Refusal):
    """The loss, as told, cannot be sized; `where` names the measure that cannot be."""

    code = "loss_unusable"
    status = 422


@dataclass(frozen=True)
class ReportMade:
    """A kept report."""

    sizing_id: int
    report: dict[str, Any]


def report_for(loss: dict[str, Any]) -> dict[str, Any]:
    """
    The port's report of a loss, as a document; nothing is kept.

    :raises LossUnusable: if the loss cannot be sized.
    """
    try:
        return size_document(loss).as_document()
    except LossRefused as refused:
        raise LossUnusable(refused.message, where=refused.where, sizing_code=refused.code) from refused


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
