"""A small cast for the tests of the ground floor: one area, one user of each role, a call that is enough to send."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.contrib.auth.models import User

from jobs import access, intake, opening
from jobs.models import Area, Call, Job, Membership, Visit

NIGHT = datetime(2026, 1, 16, 6, 47, tzinfo=UTC)  # 22:47 in the evening on the Pacific coast
ENOUGH: dict[str, Any] = {
    "caller_name": "Marisol Tarnwick",
    "street": "5230 Teasel Field Court",
    "zip_code": "98664",
    "water_source": "supply_line",
    "running": "stopped",
    "power": "on",
    "category": "1",
    "room:a:line": "kitchen 12x14 floor 120 walls 60 cavity 30",
    "room:b:line": "hall 4x18",
    "lets_in": "owner",
    "can_sign": "owner",
    "caller_role": "owner",
    "access": "key box 4417",
    "care": "oxygen machine upstairs",
}


def later(minutes: float) -> datetime:
    """So many minutes after the call began."""
    return NIGHT + timedelta(minutes=minutes)


@pytest.fixture
def area(db: None) -> Area:
    return Area.objects.create(code="lower-columbia", name="Lower Columbia", phone="564-555-0190")


@pytest.fixture
def person(area: Area) -> Callable[[str], User]:
    """Makes a user who holds one role."""

    def make(role: str) -> User:
        user = User.objects.create_user(username=f"{role}-{uuid4().hex[:6]}", first_name="Ada", last_name=role)
        Membership.objects.create(user=user, role=role, area=area)
        return user

    return make


@pytest.fixture
def dispatcher(person: Callable[[str], User]) -> User:
    return person(access.DISPATCHER)


@pytest.fixture
def lead(person: Callable[[str], User]) -> User:
    return person(access.CREW_LEAD)


@pytest.fixture
def manager(person: Callable[[str], User]) -> User:
    return person(access.MANAGER)


@pytest.fixture
def call_id(area: Area, dispatcher: User) -> int:
    """A call with nothing but a number."""
    taken = intake.take_call(key=uuid4(), actor=dispatcher, now=NIGHT, area_id=area.pk, callback_number="360-555-0199")
    return taken.call_id


@pytest.fixture
def answer(call_id: int, dispatcher: User) -> Callable[..., intake.FieldSaved]:
    """Saves one field of the call as the newest writer."""

    def save(field: str, value: Any, seen: int | None = None) -> intake.FieldSaved:
        if seen is None:
            seen = Call.objects.get(pk=call_id).versions.get(field, 0)
        return intake.answer_call(
            key=uuid4(), actor=dispatcher, now=later(1), call_id=call_id, field=field, value=value, seen=seen
        )

    return save


@pytest.fixture
def enough(call_id: int, answer: Callable[..., intake.FieldSaved]) -> int:
    """A call that is enough to send a crew."""
    for field, value in ENOUGH.items():
        answer(field, value)
    return call_id


@pytest.fixture
def job(enough: int, dispatcher: User) -> Job:
    """The job that the call became, drying."""
    opened = opening.open_job(call_id=enough, actor=dispatcher, now=later(5))
    Job.objects.filter(pk=opened.job_id).update(stage=Job.Stage.DRYING)
    return Job.objects.get(pk=opened.job_id)


@pytest.fixture
def visit(job: Job) -> Visit:
    """A monitoring visit that is due."""
    return Visit.objects.create(job=job, kind=Visit.Kind.MONITORING, due_on=NIGHT.date(), service_s=2700)
