"""When a job may be dry: a range that the slowest point sets, or the reason why there is none."""

from collections.abc import Callable
from datetime import timedelta
from uuid import uuid4

import pytest
from django.contrib.auth.models import User

from jobs import drying
from jobs.drying_log import drying_log
from jobs.drying_values import MaterialValue
from jobs.expected_dry import expected_dry
from jobs.models import Job
from tests.jobs.conftest import NIGHT


@pytest.fixture
def read(job: Job, lead: User) -> Callable[[int, dict[int, float]], None]:
    for material in ("drywall", "wood_framing"):
        drying.add_point(
            key=uuid4(), actor=lead, now=NIGHT, job_id=job.pk, room_name="kitchen", material=material,
            meter="pin meter 1", scale="relative_0_100", dry_standard=12, goal=16,
        )  # fmt: skip

    def write(day: int, values: dict[int, float]) -> None:
        drying.record_readings(
            key=uuid4(), actor=lead, now=NIGHT + timedelta(days=day), job_id=job.pk, visit_id=None,
            materials=tuple(MaterialValue(point, value) for point, value in values.items()),
        )  # fmt: skip

    return write


def test_the_slowest_point_sets_the_range(job: Job, read: Callable[[int, dict[int, float]], None]) -> None:
    for day, values in enumerate([{1: 60, 2: 80}, {1: 36, 2: 64}, {1: 24, 2: 52}]):
        read(day, values)
    found = expected_dry(drying_log(job.pk), now=NIGHT + timedelta(days=2))

    assert found.low_at is not None
    assert found.high_at is not None
    assert NIGHT + timedelta(days=2) < found.low_at < found.high_at < NIGHT + timedelta(days=30)
    assert "point 2" in found.why


def test_one_reading_gives_no_range_and_says_so(job: Job, read: Callable[[int, dict[int, float]], None]) -> None:
    read(0, {1: 60, 2: 80})
    found = expected_dry(drying_log(job.pk), now=NIGHT)

    assert (found.low_at, found.high_at) == (None, None)
    assert "need" in found.why
    assert "usually take" in found.why


def test_without_points_there_is_nothing_to_expect(job: Job) -> None:
    assert expected_dry(drying_log(job.pk), now=NIGHT).why.startswith("No point has been read")


def test_a_job_at_goal_is_confirmed_by_reading(job: Job, read: Callable[[int, dict[int, float]], None]) -> None:
    read(0, {1: 14, 2: 15})

    assert "at or below their goal" in expected_dry(drying_log(job.pk), now=NIGHT).why
