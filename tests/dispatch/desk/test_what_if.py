"""Questions about a changed day: answered beside the plan, in words, and the plan stays as it was."""

from datetime import time
from typing import Any

import pytest
import time_machine
from django.test import Client

from dispatch import what_if
from dispatch.models import Crew, Plan, Stop
from dispatch.snapshot import crew_key, visit_key
from jobs import due_work
from jobs.models import Visit
from tests.dispatch.desk.test_plan_page import _solved_here, page_of
from tests.dispatch.night import NIGHT, Night
from tests.dispatch.test_planning import TOMORROW, day, plan_it

__all__ = ["_solved_here", "day"]


def ask(night: Night, plan: Plan, **question: Any) -> None:
    what_if.ask_what_if(**night.by(night.dispatcher), plan_id=plan.pk, question=what_if.Question(**question))


def answer(night: Night, plan: Plan) -> str:
    due_work.run_due(clock=lambda: NIGHT)
    found = page_of(night, Plan.objects.get(pk=plan.pk)).what_ifs
    assert found is not None
    assert not found.waiting
    return " ".join(found.told[0].lines)


def test_a_visit_that_no_crew_could_reach_in_its_window_gets_in_when_that_is_wider(day: Night) -> None:
    early = day.visit(
        day.cast.job(stage="drying", lat=45.6),
        due_on=TOMORROW,
        window_from=Crew.objects.earliest("starts_at").starts_at,
        window_until=Crew.objects.earliest("starts_at").starts_at,
    )
    plan = plan_it(day)
    outcome = plan.outcome
    assert [row["visit"] for row in outcome["skipped"]] == [visit_key(early.pk)]

    ask(day, plan, what="window", subject=visit_key(early.pk), wider_min=120)
    waiting = page_of(day, Plan.objects.get(pk=plan.pk)).what_ifs
    assert waiting is not None
    assert waiting.waiting

    said = answer(day, plan)
    assert f"Gets in: {early.job.number}" in said
    assert "less." in said
    assert Plan.objects.get(pk=plan.pk).outcome == outcome
    assert not Stop.objects.exists()


@time_machine.travel(NIGHT, tick=False)
def test_one_more_crew_is_asked_about_from_the_page_and_answered_there(day: Night, client: Client) -> None:
    plan = plan_it(day)
    like = Crew.objects.get(name="D1")
    client.force_login(day.dispatcher)
    client.post(
        f"/desk/plans/{plan.pk}/what-if",
        {"what": "crew", "subject": crew_key(like.pk), "until": "20:00", "key": "7e0a3c1c-2b7f-4d0e-9a55-0d8f7f6f1a01"},
    )
    text = client.get(f"/desk/plans/{plan.pk}").content.decode()
    assert "One more crew like D1, until 8:00 PM" in text
    assert "Being worked out." in text
    assert "extra crew would" in answer(day, plan)
    part = client.get(f"/desk/plans/{plan.pk}", headers={"HX-Request": "true", "HX-Target": "answers"}).content.decode()
    assert "extra crew would" in part
    assert "<h1" not in part
    assert "every 2s" not in part


@pytest.mark.parametrize(
    ("question", "why"),
    [
        ({"what": "crew", "subject": "c999999", "until": time(20)}, "Name a crew"),
        ({"what": "crew", "subject": "first", "until": time(1)}, "later hour"),
        ({"what": "window", "subject": "open"}, "window"),
        ({"what": "window", "subject": "v999999"}, "not one of the visits"),
        ({"what": "window", "subject": "open", "wider_min": 0}, "1 to 720"),
    ],
)
def test_a_change_that_makes_no_day_is_refused(day: Night, question: dict[str, Any], why: str) -> None:
    plan = plan_it(day)
    open_visit = Visit.objects.filter(window_from__isnull=True).earliest("pk")
    names = {"first": crew_key(Crew.objects.earliest("pk").pk), "open": visit_key(open_visit.pk)}
    question["subject"] = names.get(question["subject"], question["subject"])
    with pytest.raises(what_if.NoSuchChange, match=why):
        ask(day, plan, **question)
    assert "what_ifs" not in Plan.objects.get(pk=plan.pk).progress
