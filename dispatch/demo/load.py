"""Loading the demo company, once: master data by the import, jobs by their stories."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any
from uuid import UUID, uuid5
from zoneinfo import ZoneInfo

from django.contrib.auth.hashers import make_password
from django.contrib.auth.models import User

from dispatch.demo.clock import DemoClock
from dispatch.demo.equipment_moves import Stock
from dispatch.demo.folder import DemoFolder
from dispatch.demo.story import Cast, Story
from dispatch.imports.company import import_company
from dispatch.models import Person, Shift, WorkSpell
from equipment.models import Unit, Vehicle, Warehouse
from jobs import clocks
from jobs.models import Area, Call, Job, Promise, UseCaseCall
from jobs.people import system_user
from jobs.use_case import use_case

DEMO = UUID("5d1c1b5e-6a0c-5d0e-9a43-0c8f1a7d2e60")
# Units were there before the oldest job began.
OPENED = timedelta(days=14)
# A night belongs to the day on which it began.
DAY_BEGINS = time(6)

Progress = Callable[[Iterable[Any], str], Iterable[Any]]


@dataclass(frozen=True)
class Loaded:
    """The demo company in the database. `new` is False when it was there already."""

    area_id: int
    clock: DemoClock
    jobs: int
    open_calls: tuple[int, ...]
    sign_ins: Mapping[str, str]
    new: bool


@dataclass(frozen=True)
class JobTold:
    """What became of one demo job's story."""

    call_id: int
    job_id: int | None


def load(folder: Path, *, now: datetime, progress: Progress = lambda items, what: items) -> Loaded:
    """
    Load the demo company. Doing it again loads what an interrupted run left out, on the same days, and nothing else.

    :param progress: wraps what is gone through, so that a bar can be shown.
    :raises Refusal: if the folder does not hold a company that the use cases accept.
    """
    company = DemoFolder.read(folder)
    zone = ZoneInfo(company.rows("areas")[0]["time_zone"])
    first = UseCaseCall.objects.filter(key=DEMO, outcome=UseCaseCall.Outcome.DONE).first()
    day_zero = _day_zero(now, zone) if first is None else (first.now + OPENED).astimezone(zone).date()
    clock = DemoClock(day_zero, zone, now)
    opened = datetime.combine(day_zero, time(8), tzinfo=zone) - OPENED
    if first is None:
        import_company(key=DEMO, actor=system_user(), now=opened, sheets=company.company, today=day_zero)
        write_demo_hours(key=uuid5(DEMO, "hours"), actor=system_user(), now=now)
    there = {_story_key(job["job"][0]["job"]) for job in company.jobs}
    told = set(UseCaseCall.objects.filter(key__in=there, outcome="done").values_list("key", flat=True))
    missing = [job for job in company.jobs if _story_key(job["job"][0]["job"]) not in told]
    for job in progress(missing, "jobs") if missing else ():
        tell_demo_job(
            key=_story_key(job["job"][0]["job"]),
            actor=system_user(),
            now=now,
            day_zero=day_zero,
            zone=clock.zone.key,
            told=job,
        )
    area = Area.objects.get(code=company.rows("areas")[0]["code"])
    return Loaded(
        area_id=area.pk,
        clock=clock,
        jobs=Job.objects.filter(area=area).count(),
        open_calls=tuple(Call.objects.filter(area=area, ended_at=None).order_by("pk").values_list("pk", flat=True)),
        sign_ins={row["role"]: row["user_name"] for row in company.rows("demo_sign_ins")},
        new=first is None,
    )


@use_case("tell_demo_job", private=("told",))
def tell_demo_job(
    *, key: UUID, actor: User, now: datetime, day_zero: date, zone: str, told: dict[str, list[dict[str, str]]]
) -> JobTold:
    """
    Tell one demo job through the use cases of a real one, each at its own time before `now`.

    A job whose crew is only now being sent stays a call, for the desk to send.
    """
    story = Story(
        key=key, clock=DemoClock(day_zero, ZoneInfo(zone), now), cast=_cast(told["job"][0]), stock=_stock(), told=told
    )
    call_id = story.take_the_call()
    if story.job["stage"] == "sent":
        return JobTold(call_id, None)
    job_id = story.open(call_id)
    story.live(job_id)
    _give_the_report(job_id, key=key, actor=story.cast.dispatcher, now=now)
    return JobTold(call_id, job_id)


def _give_the_report(job_id: int, *, key: UUID, actor: User, now: datetime) -> None:
    """The payer had its report when half of the promised time was over."""
    for promise in clocks.running(Promise.objects.filter(job=job_id, kind=Promise.Kind.REPORT)):
        at = promise.starts_at + (promise.due_at - promise.starts_at) / 2
        if at <= now:
            clocks.meet_promise(key=uuid5(key, "report"), actor=actor, now=at, promise_id=promise.pk)


def set_password(user_names: Iterable[str], password: str) -> None:
    """Let the demo sign-ins in, all by one hash (hashing is slow on purpose); real people get theirs one by one."""
    User.objects.filter(username__in=list(user_names)).update(password=make_password(password))


def _story_key(job: str) -> UUID:
    return uuid5(DEMO, job)


def _day_zero(now: datetime, zone: ZoneInfo) -> date:
    local = now.astimezone(zone)
    return local.date() - timedelta(days=local.time() < DAY_BEGINS)


def _cast(job: Mapping[str, str]) -> Cast:
    people = {person.user.username: person for person in Person.objects.select_related("user", "home")}
    users = {name: person.user for name, person in people.items()}
    roles = dict(User.objects.filter(memberships__isnull=False).values_list("username", "memberships__role"))
    at_home = (name for name in sorted(people) if people[name].home.code == job["warehouse"])
    keeper = next((name for name in at_home if roles.get(name) == "warehouse"), None)
    keepers = sorted(name for name, role in roles.items() if role == "warehouse" and name in users)
    desk = sorted(name for name, role in roles.items() if role == "dispatcher" and name in users)
    area_id = next(iter(people.values())).area_id
    return Cast(area_id, users, dispatcher=users[desk[0]], keeper=users[keeper or keepers[0]])


def _stock() -> Stock:
    return Stock(
        models=dict(Unit.objects.values_list("number", "model_id")),
        vehicles=dict(Vehicle.objects.values_list("code", "pk")),
        warehouses=dict(Warehouse.objects.values_list("code", "pk")),
    )


@use_case("write_demo_hours")
def write_demo_hours(*, key: UUID, actor: User, now: datetime) -> int:
    """Write the hours worked so far as the rota had them, since rest is counted from what was worked; how many."""
    begun = Shift.objects.filter(starts_at__lte=now).exclude(kind=Shift.Kind.ON_CALL)
    spells = WorkSpell.objects.bulk_create(
        WorkSpell(
            person_id=shift.person_id,
            starts_at=shift.starts_at,
            ends_at=shift.ends_at if shift.ends_at <= now else None,
        )
        for shift in begun
    )
    return len(spells)
