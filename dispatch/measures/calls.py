"""From the first ring: to the call back, to a yes, to the door. What has not happened yet counts with its age."""

from collections.abc import Iterable
from datetime import datetime

from django.db.models import Exists, Min, OuterRef, Q, QuerySet, Subquery

from dispatch.measures.cases import Case, Label, Span, labels
from dispatch.models import CallOut, CallOutStep
from jobs.models import Call, Job, Promise, PromiseEnd, Visit
from jobs.models.payer import PayerRule

MINUTE = 60.0
FIRST = (Visit.Kind.EMERGENCY, Visit.Kind.FIRST)


def _calls(span: Span) -> QuerySet[Call]:
    return Call.objects.filter(area=span.area_id, started_at__gte=span.starts_at, started_at__lt=span.ends_at)


def call_back(span: Span) -> list[Case]:
    """Minutes from the first ring to a human with authority phoning; agreeing a later time is none (3 queries)."""
    phoned = (
        PromiseEnd.objects.filter(promise__call=OuterRef("pk"), promise__kind=Promise.Kind.CONTACT)
        .exclude(end=PromiseEnd.End.AGREED_LATER)
        .order_by("happened_at")
        .values("happened_at")[:1]
    )
    rows = _calls(span).annotate(phoned_at=Subquery(phoned)).order_by("started_at", "pk")
    found = list(rows.values_list("pk", "started_at", "ended_at", "phoned_at", "job_id"))
    by_job = labels({job for *_, job in found if job})
    cases = []
    for pk, started_at, ended_at, phoned_at, job_id in found:
        end = min((at for at in (phoned_at, ended_at) if at is not None), default=None)
        local = started_at.astimezone(span.zone)
        case = Case(
            started_at,
            ((end or span.now) - started_at).total_seconds() / MINUTE,
            what="nobody has phoned yet" if end is None else "phoned",
            open=end is None,
            group=f"{local:%H}:00",
            call_id=pk,
        )
        cases.append(by_job.get(job_id, Label()).on(case))
    return cases


def acknowledged(span: Span) -> list[Case]:
    """Minutes from the first page for a visit to somebody leaving, failed tries included (4 queries)."""
    rows = CallOut.objects.filter(area=span.area_id, visit__kind__in=FIRST)
    first = rows.values("visit_id").annotate(began=Min("started_at"))
    began = {row["visit_id"]: row["began"] for row in first.filter(began__gte=span.starts_at, began__lt=span.ends_at)}
    said: dict[int, datetime] = {}
    leaving = CallOutStep.Answer.LEAVING
    steps = CallOutStep.objects.filter(call_out__visit__in=began, answer=leaving, answered_at__isnull=False)
    for visit_id, at in steps.order_by("-answered_at").values_list("call_out__visit_id", "answered_at"):
        assert at is not None
        said[visit_id] = at
    tries: dict[int, int] = {}
    last: dict[int, tuple[str, int]] = {}
    for visit_id, state, job_id in (
        rows.filter(visit__in=began).order_by("pk").values_list("visit_id", "state", "visit__job_id")
    ):
        tries[visit_id] = tries.get(visit_id, 0) + 1
        last[visit_id] = (state, job_id)
    by_job = labels({job_id for _, job_id in last.values()})
    cases = []
    for visit_id, at in sorted(began.items(), key=lambda item: (item[1], item[0])):
        state, job_id = last[visit_id]
        yes = said.get(visit_id)
        if yes is None and state == CallOut.State.CANCELED:
            continue
        words = "leaving" if yes else "nobody answered" if state == CallOut.State.EXHAUSTED else "still asking"
        minutes = ((yes or span.now) - at).total_seconds() / MINUTE
        group = "first crew asked" if tries[visit_id] == 1 else "another crew was asked"
        cases.append(by_job[job_id].on(Case(at, minutes, what=words, open=yes is None, group=group)))
    return cases


def _on_site(span: Span) -> Iterable[tuple[Call, int, datetime | None, bool, Label, Job]]:
    arrived = (
        Visit.objects.filter(job=OuterRef("job"), kind__in=FIRST, arrived_at__isnull=False)
        .order_by("arrived_at")
        .values("arrived_at")[:1]
    )
    later = PromiseEnd.objects.filter(
        promise__job=OuterRef("job"), promise__kind=Promise.Kind.ARRIVAL, end=PromiseEnd.End.AGREED_LATER
    )
    # Of several callers about one loss, the one who rang first.
    earlier = Call.objects.filter(job=OuterRef("job")).filter(
        Q(started_at__lt=OuterRef("started_at")) | Q(started_at=OuterRef("started_at"), pk__lt=OuterRef("pk"))
    )
    rows = (
        _calls(span)
        .filter(~Exists(earlier), job__isnull=False, ended_as__in=[Call.EndedAs.SENT, Call.EndedAs.BOOKED])
        .annotate(there_at=Subquery(arrived), agreed=Exists(later))
        .select_related("job")
        .order_by("started_at", "pk")
    )
    found = list(rows)
    by_job = labels({call.job_id for call in found if call.job_id})
    for call in found:
        job = call.job
        assert job is not None
        there: datetime | None = getattr(call, "there_at")  # noqa: B009 (annotated above)
        if there is None and job.stage in (Job.Stage.CLOSED, Job.Stage.PICKED_UP):
            continue
        yield call, job.pk, there, bool(getattr(call, "agreed")), by_job[job.pk], job  # noqa: B009


def on_site(span: Span) -> list[Case]:
    """Minutes from the first ring to arrival at the door; later times that were agreed stand apart (3 queries)."""
    return [
        label.on(
            Case(
                call.started_at,
                ((there or span.now) - call.started_at).total_seconds() / MINUTE,
                what="arrived" if there else "nobody is there yet",
                open=there is None,
                group="a later time was agreed" if agreed else "as first promised",
                call_id=call.pk,
            )
        )
        for call, _, there, agreed, label, _ in _on_site(span)
    ]


def on_site_by_rule(span: Span) -> list[Case]:
    """Arrivals within the payer's own time, where it has one and the customer agreed to no later one (4 queries)."""
    found = list(_on_site(span))
    rules: dict[int, list[PayerRule]] = {}
    payers = {job.payer_id for *_, job in found if job.payer_id}
    for rule in PayerRule.objects.filter(payer__in=payers, arrival_minutes__isnull=False).order_by("-valid_from"):
        rules.setdefault(rule.payer_id, []).append(rule)
    cases = []
    for call, _, there, agreed, label, job in found:
        on = call.started_at.astimezone(span.zone).date()
        held = [
            rule.arrival_minutes
            for rule in rules.get(job.payer_id or 0, [])
            if rule.valid_from <= on and (rule.valid_until is None or on < rule.valid_until)
        ]
        if agreed or not held or held[0] is None:
            continue
        minutes = ((there or span.now) - call.started_at).total_seconds() / MINUTE
        if there is None and minutes <= held[0]:
            continue
        words = f"{minutes / 60:.1f} h of {held[0] / 60:.1f} h" if there else f"nobody there after {minutes / 60:.1f} h"
        good = float(there is not None and minutes <= held[0])
        cases.append(label.on(Case(call.started_at, good, what=words, open=there is None, call_id=call.pk)))
    return cases
