"""A job's newest sizing on paper, with the lead's words beside it."""

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from django.http import HttpResponse

from equipment.leads_topics import words_on_paper
from equipment.sizing.report_reading import report_of
from equipment.sizing.sheet import sizing_sheet
from equipment.sizing_reports import newest_report
from jobs.models import Job, LeadsWord
from jobs.refusals import NotThere, Refusal


class NotSizedYet(Refusal):
    """The job has no sizing report yet: size it first."""

    code = "not_sized_yet"
    status = 404


@dataclass(frozen=True)
class Paper:
    """A printable sheet and the name under which it is saved."""

    file_name: str
    pdf: bytes


def file_answer(paper: Paper) -> HttpResponse:
    """The sheet as a browser shows or saves it."""
    return HttpResponse(
        paper.pdf,
        content_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="{paper.file_name}"'},
    )


def paper_of(job_id: int) -> Paper:
    """
    The sizing sheet of a job (3 queries); the same report and words print the same bytes.

    :raises NotThere: if there is no such job.
    :raises NotSizedYet: if it was never sized.
    """
    job = Job.objects.filter(pk=job_id).first()
    if job is None:
        raise NotThere(f"There is no job with the id {job_id}. Choose one from the list of jobs.", where="job_id")
    kept = newest_report(job_id)
    if kept is None:
        raise NotSizedYet(f"{job.number} was not sized yet. Size it, then print the sheet.")
    local = kept.made_at.astimezone(ZoneInfo(job.time_zone))
    pdf = sizing_sheet(
        report_of(kept.report),
        job=f"{job.number}, {job.street}, {job.town}",
        prepared=f"{local:%b} {local.day}, {local.year}, {local:%-I:%M %p}, {kept.made_by}",
        lead=words_on_paper(LeadsWord.objects.filter(job=job)),
    )
    return Paper(f"sizing-{job.number}.pdf", pdf)
