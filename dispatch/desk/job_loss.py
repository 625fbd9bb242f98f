"""Other jobs of a job's loss: joined to it, the one that it was joined to, and those that may be the same."""

from dataclasses import dataclass

from jobs.models import Job
from jobs.places import Place
from jobs.same_loss import SameLoss, same_loss


@dataclass(frozen=True)
class SameLossJobs:
    """The job that this one was joined to, those that were joined to it, and open ones that may be the same loss."""

    joined_to: str
    joined: tuple[str, ...]
    near: tuple[SameLoss, ...]


def same_loss_jobs(job: Job) -> SameLossJobs:
    """What is known of other jobs of this loss (3 queries)."""
    place = Place(job.town, job.state, job.zip_code, job.county, job.time_zone, job.lat, job.lon, "")
    found = same_loss(
        call_id=0, area_id=job.area_id, street=job.street, unit=job.unit, place=place, started_at=job.opened_at
    )
    return SameLossJobs(
        "" if job.joined_to is None else job.joined_to.number,
        tuple(job.joined.order_by("pk").values_list("number", flat=True)),
        tuple(row for row in found if row.job_id not in (None, job.pk) and job.closed_at is None),
    )
