"""A plan that could not be worked out says so, on its page and on the board."""

import os
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client

from dispatch import planning, solving
from dispatch.desk.waiting_words import waiting_words
from dispatch.models import Plan
from equipment.models import Alarm
from jobs import due_work
from jobs.models import DueWork
from tests.dispatch.night import NIGHT, Night
from tests.dispatch.test_planning import TOMORROW, day

__all__ = ["day"]
MINUTE = timedelta(minutes=1)


def _ask(night: Night, *, publish: bool) -> tuple[Plan, DueWork]:
    asked = planning.plan_day(
        **night.by(night.dispatcher), area_id=night.cast.area.pk, day=TOMORROW, iterations=5, publish=publish
    )
    return Plan.objects.get(pk=asked.plan_id), DueWork.objects.get(kind=planning.RUN)


@pytest.mark.django_db
def test_a_plan_whose_worker_dies_each_time_is_said_to_have_failed(day: Night, client: Client) -> None:
    plan, work = _ask(day, publish=True)
    client.force_login(day.dispatcher)
    assert "It is kept and begun by itself" in client.get(f"/desk/plans/{plan.pk}").content.decode()
    for _ in range(2):
        DueWork.objects.filter(pk=work.pk).update(state="running", attempts=planning.TRIES, lease_until=NIGHT)
        due_work.run_one(work.pk, now=NIGHT + MINUTE)
    plan.refresh_from_db()
    assert (plan.state, plan.outcome) == (Plan.State.FAILED, None)
    assert "3 tries were cut off" in client.get(f"/desk/plans/{plan.pk}").content.decode()
    assert "could not be worked out" in Alarm.objects.get(kind="no_plan").text


@pytest.mark.django_db
def test_who_is_overtaken_does_not_take_a_published_plan_back(day: Night, monkeypatch: pytest.MonkeyPatch) -> None:
    plan, work = _ask(day, publish=False)

    def overtaken(*_: Any, **__: Any) -> tuple[None, str]:
        Plan.objects.filter(pk=plan.pk).update(state=Plan.State.PUBLISHED)
        return None, "too late"

    monkeypatch.setattr(solving, "solve_beside", overtaken)
    assert due_work.run_one(work.pk, now=NIGHT)
    plan.refresh_from_db()
    assert (plan.state, plan.failure) == (Plan.State.PUBLISHED, "")
    assert DueWork.objects.get(pk=work.pk).result == {"state": "published"}


def test_word_is_given_while_the_planner_says_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(solving, "ALIVE_S", 0.01)
    says, told = os.pipe(), []

    def alive(so_far_s: float) -> None:
        told.append(so_far_s)
        if len(told) == 3:
            os.write(says[1], b"done\n")
            os.close(says[1])

    with os.fdopen(says[0]) as source:
        assert list(solving._lines(source, alive)) == ["done\n"]
    assert told[:3] == sorted(told[:3])
    assert told[0] > 0


@pytest.mark.django_db
def test_the_board_says_what_waits_while_nobody_works(day: Night, client: Client) -> None:
    _ask(day, publish=False)
    zone = day.cast.area.zone
    assert waiting_words(now=NIGHT + 9 * MINUTE, zone=zone) == "", "plans wait for one another"
    assert "Waiting since 10:47 PM" in waiting_words(now=NIGHT + 10 * MINUTE, zone=zone)
    DueWork.objects.create(kind="dispatch.send_notice", due_at=NIGHT, made_at=NIGHT, arguments={"notice_id": 1})
    assert waiting_words(now=NIGHT + timedelta(seconds=20), zone=zone) == ""
    said = waiting_words(now=NIGHT + MINUTE, zone=zone)
    assert "1 message and 1 plan." in said
    client.force_login(day.dispatcher)
    assert "Messages and plans wait." in client.get("/desk").content.decode()
