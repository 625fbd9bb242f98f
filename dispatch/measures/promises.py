"""Promises, visits and wasted trips: a miss is never taken out of the count by leaving it unsaid."""

from dispatch.measures.cases import Case, Label, Span, labels
from jobs.models import Promise, PromiseEnd, Visit


def promises_kept(span: Span) -> list[Case]:
    """Of the promises due in the span: kept against kept, broken and still open past due (3 queries)."""
    rows = (
        Promise.objects.filter(area=span.area_id, due_at__gte=span.starts_at, due_at__lt=span.ends_at)
        .exclude(end__end=PromiseEnd.End.AGREED_LATER)
        .order_by("due_at", "pk")
    )
    found = list(rows.values_list("kind", "due_at", "end__end", "call_id", "job_id"))
    by_job = labels({row[-1] for row in found if row[-1]})
    cases = []
    for kind, due_at, end, call_id, job_id in found:
        if end is None and due_at >= span.now:
            continue
        words = "past due and still open" if end is None else PromiseEnd.End(end).label
        case = Case(
            due_at,
            float(end == PromiseEnd.End.KEPT),
            what=words,
            open=end is None,
            group=Promise.Kind(kind).label,
            call_id=call_id,
        )
        cases.append(by_job.get(job_id, Label()).on(case))
    return cases


def visits_done(span: Span) -> list[Case]:
    """Of the visits due in the span: done, against missed, could not work, and past their day (3 queries)."""
    today = span.now.astimezone(span.zone).date()
    rows = (
        Visit.objects.filter(job__area=span.area_id, due_on__gte=span.first, due_on__lt=span.until)
        .exclude(state=Visit.State.CANCELED)
        .order_by("due_on", "pk")
    )
    found = [
        row
        for row in rows.values_list("due_on", "state", "kind", "reason", "job_id", "arrived_at")
        if row[0] < today or row[1] not in (Visit.State.DUE, Visit.State.UNDER_WAY)
    ]
    by_job = labels({row[4] for row in found})
    cases = []
    for due_on, state, kind, reason, job_id, _ in found:
        late = state in (Visit.State.DUE, Visit.State.UNDER_WAY)
        words = "its day has passed and nothing is recorded" if late else Visit.State(state).label
        at = Span(span.area_id, span.zone, due_on, due_on, span.now).starts_at
        case = Case(
            at,
            float(state == Visit.State.DONE),
            what=f"{Visit.Kind(kind).label}: {words}" + (f", {reason}" if reason else ""),
            open=late,
            group="weekend" if due_on.weekday() >= 5 else "weekday",
        )
        cases.append(by_job[job_id].on(case))
    return cases


def wasted_trips(span: Span) -> list[Case]:
    """Arrived, or on the way, and could not work, by cause (3 queries)."""
    rows = Visit.objects.filter(
        job__area=span.area_id,
        state=Visit.State.CANNOT_WORK,
        left_at__isnull=False,
        left_at__gte=span.starts_at,
        left_at__lt=span.ends_at,
    ).order_by("left_at", "pk")
    found = list(rows.values_list("left_at", "kind", "reason", "told", "job_id"))
    by_job = labels({row[-1] for row in found})
    return [
        by_job[job_id].on(
            Case(
                left_at,
                1.0,
                what=f"{Visit.Kind(kind).label}, told: {told or 'nobody'}",
                group=reason or "no cause named",
            )
        )
        for left_at, kind, reason, told, job_id in found
        if left_at is not None
    ]
