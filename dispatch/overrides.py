"""What managers have overridden: read for offers, routes, the board, the job's page, the hand-over and the measures."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q, QuerySet

from dispatch.eligibility import Reason
from dispatch.models import Crew, Override


@dataclass(frozen=True)
class OverriddenRule:
    """One reason that stood against the crew: the rule's key, whom it is about, and its words then."""

    rule: str
    who: str
    message: str


@dataclass(frozen=True)
class Overridden:
    """A manager's word that a crew may go to one loss in spite of these reasons, from `at` to `until`."""

    override_id: int
    crew_id: int
    crew: str
    lead: str
    helper: str
    call_id: int | None
    job_id: int | None
    job_number: str
    place: str
    rules: tuple[OverriddenRule, ...]
    reason: str
    by: str
    at: datetime
    until: datetime

    @property
    def what(self) -> str:
        """The reasons that were overridden, as one text."""
        return " ".join(rule.message for rule in self.rules)

    @property
    def mark(self) -> str:
        """How it is shown beside the stop: who overrode what, and why."""
        return f"Overridden by {self.by}: {self.what} Why: {self.reason}"

    def covers(self, reasons: Iterable[Reason]) -> bool:
        """Whether every one of the reasons was known and overridden."""
        known = {(rule.rule, rule.who) for rule in self.rules}
        return all((reason.rule, reason.who) in known for reason in reasons)

    def is_for(self, *, job_id: int | None = None, call_id: int | None = None) -> bool:
        """Whether it was said for this job, or for this call."""
        return (job_id is not None and self.job_id == job_id) or (call_id is not None and self.call_id == call_id)


def in_force(crews: Sequence[Crew], *, now: datetime) -> Mapping[int, tuple[Overridden, ...]]:
    """By crew, what holds now for the crew as it is made up (1 query)."""
    pairs = {crew.pk: (crew.lead_id, crew.helper_id) for crew in crews}
    found: dict[int, list[Overridden]] = defaultdict(list)
    for row in _rows().filter(crew_id__in=pairs, said_at__lte=now, until__gt=now):
        if pairs[row.crew_id] == (row.lead_id, row.helper_id):
            found[row.crew_id].append(_overridden(row))
    return {crew_id: tuple(words) for crew_id, words in found.items()}


def said_for(crews: Sequence[Crew]) -> Mapping[int, tuple[Overridden, ...]]:
    """By crew, everything that was ever said for the crew as it is made up, oldest first (1 query)."""
    pairs = {crew.pk: (crew.lead_id, crew.helper_id) for crew in crews}
    found: dict[int, list[Overridden]] = defaultdict(list)
    for row in _rows().filter(crew_id__in=pairs):
        if pairs[row.crew_id] == (row.lead_id, row.helper_id):
            found[row.crew_id].append(_overridden(row))
    return {crew_id: tuple(words) for crew_id, words in found.items()}


def overrides(*, area_id: int, since: datetime, until: datetime | None = None) -> tuple[Overridden, ...]:
    """Every override said from `since` on (and before `until`, where given), oldest first (1 query)."""
    found = _rows().filter(area_id=area_id, said_at__gte=since)
    return tuple(map(_overridden, found if until is None else found.filter(said_at__lt=until)))


def of_job(job_id: int) -> tuple[Overridden, ...]:
    """Every override that was said for the job, or for the call that it came from, oldest first (1 query)."""
    return tuple(
        map(_overridden, _rows().filter(Q(job_id=job_id) | Q(job__joined_to_id=job_id) | Q(call__job_id=job_id)))
    )


def of_call(call_id: int) -> tuple[Overridden, ...]:
    """Every override that was said for the call, oldest first (1 query)."""
    return tuple(map(_overridden, _rows().filter(call_id=call_id)))


def one(override_id: int) -> Overridden:
    """One override by its id."""
    return _overridden(_rows().get(pk=override_id))


def _rows() -> QuerySet[Override]:
    return Override.objects.select_related(
        "crew", "lead", "helper", "call__job__joined_to", "job__joined_to", "said_by"
    ).order_by("said_at", "pk")


def _overridden(row: Override) -> Overridden:
    job = row.job or (row.call.job if row.call else None)
    if job is not None and job.joined_to is not None:
        job = job.joined_to
    if job is not None:
        place = f"{job.street}, {job.town}, {job.state}"
    else:
        said = {} if row.call is None else {**row.call.answers, **row.call.private_answers}
        place = ", ".join(str(said[field]) for field in ("street", "town", "state") if said.get(field))
    return Overridden(
        override_id=row.pk,
        crew_id=row.crew_id,
        crew=row.crew.name,
        lead=row.lead.name,
        helper="" if row.helper is None else row.helper.name,
        call_id=row.call_id,
        job_id=None if job is None else job.pk,
        job_number="" if job is None else job.number,
        place=place,
        rules=tuple(OverriddenRule(rule["rule"], rule["who"], rule["message"]) for rule in row.rules),
        reason=row.reason,
        by=row.said_by.get_full_name() or row.said_by.get_username(),
        at=row.said_at,
        until=row.until,
    )
