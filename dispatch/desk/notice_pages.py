"""What became of the messages, and how everybody is reached: read in three queries."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from django.conf import settings

from dispatch.models import Notice, Person
from jobs.models import Area, WaysToReach

MOST_ROWS = 100
BACK = timedelta(hours=24)


@dataclass(frozen=True)
class NoticeLine:
    """One message and what became of it."""

    notice_id: int
    made_at: datetime
    to: str
    phone: str
    job_number: str
    said: str
    state: str
    way: str
    tries: int
    failed: bool
    failed_for_good: bool
    failure: str
    answer: str


@dataclass(frozen=True)
class ReachLine:
    """How one of us is reached."""

    person_id: int
    name: str
    phone: str
    email: str
    reach_by: str


@dataclass(frozen=True)
class Notices:
    """Everything on `/desk/notices`: what failed first, then the newest."""

    zone: ZoneInfo
    usual_way: str
    failed: tuple[NoticeLine, ...]
    others: tuple[NoticeLine, ...]
    people: tuple[ReachLine, ...]
    ways: tuple[tuple[str, str], ...]


def notices(*, area: Area, now: datetime) -> Notices:
    """The messages of the last 24 hours of one area; no more than a hundred of each kind."""
    rows = Notice.objects.filter(area=area, made_at__gte=now - BACK, made_at__lte=now)
    rows = rows.select_related("person", "contact", "visit__job", "step").order_by("-made_at", "-pk")
    failed = rows.filter(state=Notice.State.FAILED)[:MOST_ROWS]
    others = rows.exclude(state=Notice.State.FAILED)[:MOST_ROWS]
    people = Person.objects.filter(area=area, active=True).select_related("user").order_by("name", "pk")
    return Notices(
        zone=area.zone,
        usual_way=WaysToReach(settings.NOTICE_WAY).label,
        failed=tuple(map(_line, failed)),
        others=tuple(map(_line, others)),
        people=tuple(ReachLine(row.pk, row.name, row.phone, row.user.email, row.reach_by) for row in people),
        ways=tuple(WaysToReach.choices),
    )


def _line(row: Notice) -> NoticeLine:
    to, phone = "nobody on record any more", ""
    if row.person is not None:
        to, phone = row.person.name, row.person.phone
    elif row.contact is not None:
        to, phone = row.contact.name or row.contact.role, row.contact.phone
    return NoticeLine(
        notice_id=row.pk,
        made_at=row.made_at,
        to=to,
        phone=phone,
        job_number="" if row.visit is None else row.visit.job.number,
        said=row.text,
        state=row.get_state_display(),
        way=WaysToReach(row.way).label if row.way else "",
        tries=row.tries,
        failed=row.state == Notice.State.FAILED,
        failed_for_good=row.failed_for_good,
        failure=row.failure,
        answer="" if row.step is None else row.step.get_answer_display(),
    )
