"""
Promise clocks: each begins inside the use case that causes it and ends with the fact that keeps or breaks it.

A clock that is late runs on and is shown until its fact is recorded. Another time is agreed with somebody, by name;
agreed in time, the clock ends as agreed later, agreed too late, as broken, and the new time has a clock of its own.
"""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID
from zoneinfo import ZoneInfo

from django.contrib.auth.models import User
from django.db.models import Q, QuerySet

from jobs import journal
from jobs.clock_times import elapsed, end_of_day, kept
from jobs.models import AgreedWith, Call, Job, PayerRule, Promise, PromiseEnd, Visit
from jobs.refusals import NotThere, Refusal, Unusable
from jobs.rules import figure
from jobs.use_case import use_case

Kind, End = Promise.Kind, PromiseEnd.End
CALL_BACK = "every caller hears from us within a quarter of an hour (trade practice)"
EVERY_DAY = "a visit every day until dry (trade practice)"
OURS = "the time that we gave"


def call_back_minutes(now: datetime) -> int:
    """Within how many minutes a caller hears from us again, by the rule of that day."""
    return int(figure("call_back_minutes", on=now.date()))


class PromiseNotThere(NotThere):
    """No such promise."""

    code = "promise_not_found"


class PromiseOver(Refusal):
    """The promise has its end, and has one only."""

    code = "promise_over"


class PromiseOfVisit(Refusal):
    """A visit's clock ends when the crew arrives, not by a word at the desk."""

    code = "promise_of_visit"


class AgreementNeedsName(Refusal):
    """Another time is agreed with somebody, or it is no agreement."""

    code = "agreement_needs_name"
    status = 422


@dataclass(frozen=True)
class ClockEnded:
    """How a clock ended, and the clock that takes its place, if any."""

    promise_id: int
    end: str
    next_id: int | None = None
    next_due_at: datetime | None = None


@use_case("agree_another_time", private=("with_whom",))
def agree_another_time(
    *, key: UUID, actor: User, now: datetime, promise_id: int, new_due_at: datetime, with_whom: str
) -> ClockEnded:
    """
    Agree a later time with somebody. What is due moves along: the call's next contact, the visit's time and day.

    :raises AgreementNeedsName: without saying with whom.
    :raises PromiseOver: if the clock has ended.
    """
    if not with_whom.strip():
        raise AgreementNeedsName("Say with whom the other time was agreed.", where="with_whom")
    promise = _locked(promise_id)
    if new_due_at <= max(now, promise.due_at):
        raise Unusable("The new time is not later than the promised one, or has passed.", where="new_due_at")
    ended = end(promise, happened_at=now, actor=actor, now=now, why="agreed_another_time", with_whom=with_whom)
    following = _begin(
        kind=promise.kind,
        area_id=promise.area_id,
        call=promise.call,
        job=promise.job,
        visit=promise.visit,
        rule=promise.rule,
        basis="agreed with them",
        starts_at=now,
        due_at=new_due_at,
        takes_place_of=promise,
    )
    if promise.call is not None and promise.job is None:
        Call.objects.filter(pk=promise.call.pk).update(next_contact_at=new_due_at)
    if promise.visit is not None:
        on = new_due_at.astimezone(ZoneInfo(promise.visit.job.time_zone)).date()
        Visit.objects.filter(pk=promise.visit.pk).update(
            due_at=new_due_at, due_on=on, window_from=None, window_until=None
        )
    journal.note(
        kind="another_time_agreed",
        actor=actor,
        now=now,
        job=promise.job,
        area_id=promise.area_id,
        data={"promise": promise.pk, "end": ended.end, "next": following.pk},
    )
    return ClockEnded(promise.pk, ended.end, following.pk, following.due_at)


@use_case("meet_promise")
def meet_promise(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    promise_id: int,
    happened_at: datetime | None = None,
    next_contact_at: datetime | None = None,
) -> ClockEnded:
    """
    Record that somebody was called back, or the report was given. A caller who waits on gets the next contact time,
    and whoever called is the owner.

    :raises PromiseOfVisit: for a visit, which the crew's arrival ends.
    :raises PromiseOver: if the clock has ended.
    """
    promise = _locked(promise_id)
    at = happened_at or now
    if promise.kind not in (Kind.CONTACT, Kind.REPORT):
        raise PromiseOfVisit("The crew's arrival ends this clock. If it gets later, agree another time with them.")
    if at > now or at < promise.starts_at:
        raise Unusable("This was before the clock began, or has not happened yet.", where="happened_at")
    if next_contact_at is not None and next_contact_at <= now:
        raise Unusable("The next contact lies in the past. Choose a later time.", where="next_contact_at")
    ended = end(promise, happened_at=at, actor=actor, now=now, why=f"{promise.kind}_recorded")
    if promise.job is None and promise.call is not None and promise.call.ended_at is None:
        following = begin_call_back(promise.call, now=now, due_at=next_contact_at)
        Call.objects.filter(pk=promise.call.pk).update(next_contact_at=following.due_at, owner=actor)
        return ClockEnded(promise.pk, ended.end, following.pk, following.due_at)
    return ClockEnded(promise.pk, ended.end)


def begin_call_back(call: Call, *, now: datetime, due_at: datetime | None = None) -> Promise:
    """The clock of a caller who waits. The caller's transaction, as for all that begin or end a clock below."""
    due = due_at or elapsed(now, minutes=call_back_minutes(now))
    return _begin(
        kind=Kind.CONTACT,
        area_id=call.area_id,
        call=call,
        starts_at=now,
        due_at=due,
        basis=OURS if due_at else CALL_BACK,
    )


def begin_contact_for_payer(job: Job, call: Call) -> Promise | None:
    """Where a payer's clock for the first contact runs: it counts from the first notice of the loss."""
    rule = rule_of(job, call.started_at)
    if rule is None or rule.contact_minutes is None:
        return None
    due_at = elapsed(call.started_at, minutes=rule.contact_minutes)
    return _begin(
        kind=Kind.CONTACT,
        area_id=job.area_id,
        call=call,
        job=job,
        rule=rule,
        starts_at=call.started_at,
        due_at=due_at,
        basis=f"{rule.payer.name}: first contact within {rule.contact_minutes} min",
    )


def begin_of_visit(visit: Visit, *, now: datetime) -> Promise | None:
    """The clock of a visit: the time or window that was given, the payer's hours, or the day; None where none holds."""
    job, rule, basis = visit.job, None, OURS
    due_at = visit.due_at or visit.window_until
    first = visit.kind in (Visit.Kind.EMERGENCY, Visit.Kind.FIRST)
    daily = visit.kind == Visit.Kind.MONITORING
    if first or daily:
        rule = rule_of(job, now)
    if first and rule is not None and rule.arrival_minutes is not None and visit.due_at is not None:
        basis = f"{rule.payer.name}: on site within {rule.arrival_minutes} min"
    if daily and due_at is None:
        due_at, basis = end_of_day(visit.due_on, job.time_zone), EVERY_DAY
        if rule is not None and rule.visit_hours is not None:
            last = job.visits.filter(arrived_at__isnull=False).order_by("-arrived_at").first()
            if last is not None and last.arrived_at is not None:
                due_at = elapsed(last.arrived_at, minutes=60 * rule.visit_hours)
                basis = f"{rule.payer.name}: a visit every {rule.visit_hours} hours"
    if due_at is None:
        return None
    return _begin(
        kind=Kind.DAILY_VISIT if daily else Kind.ARRIVAL,
        area_id=job.area_id,
        job=job,
        visit=visit,
        rule=rule,
        starts_at=min(now, due_at),
        due_at=due_at,
        basis=basis,
    )


def begin_arrival_as_told(visit: Visit, *, now: datetime, told_at: datetime) -> Promise | None:
    """The time that the caller is told, where no payer's clock runs for this visit."""
    if Promise.objects.filter(visit=visit, kind=Kind.ARRIVAL).exists():
        return None
    return _begin(
        kind=Kind.ARRIVAL,
        area_id=visit.job.area_id,
        job=visit.job,
        visit=visit,
        starts_at=min(now, told_at),
        due_at=told_at,
        basis=OURS,
    )


def begin_report(job: Job, *, first_visit_ended_at: datetime) -> Promise | None:
    """The payer's clock for the report, which counts from the end of the first visit."""
    rule = rule_of(job, first_visit_ended_at)
    if rule is None or rule.report_hours is None or job.promises.filter(kind=Kind.REPORT).exists():
        return None
    return _begin(
        kind=Kind.REPORT,
        area_id=job.area_id,
        job=job,
        rule=rule,
        starts_at=first_visit_ended_at,
        due_at=elapsed(first_visit_ended_at, minutes=60 * rule.report_hours),
        basis=f"{rule.payer.name}: report within {rule.report_hours} hours of the first visit",
    )


def end_of_visit(
    visit: Visit, *, happened_at: datetime, actor: User, now: datetime, why: str, with_whom: str = "", came: bool = True
) -> None:
    """
    End the visit's clocks. With `came` false nobody came: agreed with `with_whom` in time, else broken.

    A visit of a joined job that was not needed any more lets its clock run on: this crew's coming ends it too.
    """
    instead = Q(visit__state=Visit.State.CANCELED, visit__job__joined_to=visit.job_id)
    for promise in running(Promise.objects.filter(Q(visit=visit) | instead)):
        end(promise, happened_at=happened_at, actor=actor, now=now, why=why, with_whom=with_whom, came=came)


def end_of_call(call: Call, *, actor: User, now: datetime) -> None:
    """The caller has their answer: the clock of the call back ends."""
    for promise in running(call.promises.filter(job__isnull=True)):
        end(promise, happened_at=now, actor=actor, now=now, why="call_ended")


def end(
    promise: Promise,
    *,
    happened_at: datetime,
    actor: User,
    now: datetime,
    why: str,
    with_whom: str = "",
    came: bool = True,
) -> PromiseEnd:
    """Write the one end of a clock: in time it is kept, or agreed later with somebody; the rest is broken."""
    in_time = kept(due_at=promise.due_at, happened_at=happened_at)
    good = End.AGREED_LATER if with_whom.strip() else End.KEPT if came else End.BROKEN
    row = PromiseEnd.objects.create(
        promise=promise,
        end=good if in_time else End.BROKEN,
        happened_at=happened_at,
        recorded_at=now,
        actor=actor,
        why=why,
    )
    if with_whom.strip():
        AgreedWith.objects.create(end=row, name=with_whom.strip()[:120])
    return row


def running(rows: QuerySet[Promise]) -> QuerySet[Promise]:
    """Those without an end, late or not."""
    return rows.filter(end__isnull=True)


def rule_of(job: Job, at: datetime) -> PayerRule | None:
    """The payer's rule as it holds on the day, by the job's own clock; the newest if there are several."""
    if job.payer_id is None:
        return None
    on = at.astimezone(ZoneInfo(job.time_zone)).date()
    rules = PayerRule.objects.select_related("payer").filter(payer_id=job.payer_id, valid_from__lte=on)
    return rules.filter(Q(valid_until__isnull=True) | Q(valid_until__gt=on)).order_by("-valid_from").first()


def _locked(promise_id: int) -> Promise:
    found = Promise.objects.select_related("visit").filter(pk=promise_id).first()
    if found is None:
        raise PromiseNotThere(f"There is no promise {promise_id}. Choose one on the desk's board.", promise=promise_id)
    # A clock's row never changes; whoever may end it holds its job or its call.
    if found.job_id is not None:
        Job.objects.select_for_update(of=("self",)).get(pk=found.visit.job_id if found.visit else found.job_id)
    else:
        Call.objects.select_for_update(of=("self",)).get(promises=found)
    promise = Promise.objects.select_related("call", "job", "visit__job", "rule", "end").get(pk=promise_id)
    ended = getattr(promise, "end", None)
    if ended is not None:
        raise PromiseOver(f"This promise has ended: {ended.get_end_display()}.", promise=promise_id, end=ended.end)
    return promise


def _begin(
    *,
    kind: str,
    area_id: int,
    starts_at: datetime,
    due_at: datetime,
    basis: str,
    call: Call | None = None,
    job: Job | None = None,
    visit: Visit | None = None,
    rule: PayerRule | None = None,
    takes_place_of: Promise | None = None,
) -> Promise:
    return Promise.objects.create(
        kind=kind,
        area_id=area_id,
        call=call,
        job=job,
        visit=visit,
        rule=rule,
        basis=basis[:160],
        starts_at=starts_at,
        due_at=due_at,
        takes_place_of=takes_place_of,
    )
