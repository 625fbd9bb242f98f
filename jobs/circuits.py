"""The 120 V circuits that may be used at a job, as the lead found them."""

from collections.abc import Sequence

from jobs.models import Job


def keep_circuits(job: Job, circuits: Sequence[tuple[float, float]]) -> None:
    """Put (breaker amps, amps in use) on a locked job, in the caller's transaction: sizing reads them from there."""
    job.circuits = [{"breaker_a": breaker, "reserved_a": used} for breaker, used in circuits]
    job.save(update_fields=["circuits"])
