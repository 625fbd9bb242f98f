"""A manager's override of who may go: refused where the law bars it, offered, planned and shown where it does not."""

from datetime import timedelta
from uuid import uuid4

import pytest
import time_machine
from django.db import DatabaseError, transaction
from django.test import Client

from dispatch import crew_facts, handover, overrides, snapshot
from dispatch.desk import pages
from dispatch.emergencies import CrewCannotGo, send
from dispatch.managers_word import NotForAManager, NothingToOverride, OverrideNeedsReason, override
from dispatch.models import Card, Override, WorkSpell
from dispatch.offering import Offer, Offers, offers
from dispatch.planner.check import check
from dispatch.planner.plan import Plan
from dispatch.planner.problem import Problem
from dispatch.rules import bars
from dispatch.solving import published_plan
from jobs.refusals import NotAllowed, Unusable
from tests.dispatch.night import NIGHT, TONIGHT, Night
from tests.dispatch.test_api_walk import Caller


def offered(found: Offers, name: str) -> Offer | None:
    return next((row for row in found.offers if row.crew == name), None)


def tire(night: Night) -> None:
    """Ada's last work ended six hours before her crew's hours began."""
    began = night.ready.starts_at
    WorkSpell.objects.create(
        person=night.ready.lead, starts_at=began - timedelta(hours=12), ends_at=began - timedelta(hours=6)
    )


def test_what_the_law_bars_no_manager_overrides(night: Night) -> None:
    manager = night.by(night.cast.manager)
    call_id = night.call(category="3", water_source="sewage")
    with pytest.raises(NotForAManager) as refused:
        override(**manager, crew_id=night.ready.pk, call_id=call_id, reason="nobody else is near")
    assert "29 CFR 1910.134(f)" in refused.value.message
    assert "What would be right: send people" in refused.value.message
    # The missing microbial card alone could be overridden; nothing is overridden by halves.
    assert {row["rule"] for row in refused.value.data["rules"]} == {"card:medical_clearance", "card:fit_test"}
    row = next(row for row in offers(call_id=call_id, now=NIGHT).not_offered if row.crew == "N1")
    assert not row.may_override
    assert row.instead
    assert len(row.reasons) == 3
    forbidden = {name for name, bar in bars().items() if not bar.override}
    assert forbidden >= {"driver_hours", "card:driver_medical", "state", "card:asbestos_worker", "card:fit_test"}


def test_an_override_is_refused_without_reason_role_need_or_hours(night: Night) -> None:
    call_id = night.call()
    manager = night.by(night.cast.manager)
    with pytest.raises(NotAllowed):
        override(**night.by(night.dispatcher), crew_id=night.lapsed.pk, call_id=call_id, reason="x")
    with pytest.raises(OverrideNeedsReason):
        override(**manager, crew_id=night.lapsed.pk, call_id=call_id, reason="  ")
    with pytest.raises(NothingToOverride):
        override(**night.by(night.cast.manager), crew_id=night.ready.pk, call_id=call_id, reason="x")
    with pytest.raises(Unusable):
        override(**night.by(night.cast.manager), crew_id=night.lapsed.pk, call_id=call_id, reason="x",
                 until=night.lapsed.at_latest + timedelta(minutes=1))  # fmt: skip
    assert not Override.objects.exists()


def test_an_overridden_crew_is_offered_for_that_call_alone_and_shown_with_the_name(night: Night) -> None:
    call_id, other = night.call(), night.call()
    with pytest.raises(CrewCannotGo):
        send(**night.by(night.dispatcher), call_id=call_id, crew_id=night.lapsed.pk)
    said = override(
        **night.by(night.cast.manager), crew_id=night.lapsed.pk, call_id=call_id, reason="renewal is in the mail"
    )
    assert [(rule.rule, rule.who) for rule in said.rules] == [("card:water_technician", "Cas")]
    offer = offered(offers(call_id=call_id, now=NIGHT), "N3")
    assert offer is not None
    assert offer.override == said
    assert offered(offers(call_id=other, now=NIGHT), "N3") is None
    sent = send(**night.by(night.dispatcher), call_id=call_id, crew_id=night.lapsed.pk)
    later = NIGHT + timedelta(minutes=1)
    lines = {line.name: line for line in pages.board(area=night.cast.area, now=later).crews}
    (stop,) = lines["N3"].stops
    assert f"Overridden by {said.by}" in stop.override
    assert "renewal is in the mail" in stop.override
    (of_job,) = overrides.of_job(sent.job_id)
    assert (of_job.job_number, of_job.override_id) == (sent.job_number, said.override_id)
    assert overrides.overrides(area_id=night.cast.area.pk, since=NIGHT) == (of_job,)
    assert overrides.overrides(area_id=night.cast.area.pk, since=later) == ()
    with pytest.raises(DatabaseError), transaction.atomic():
        Override.objects.update(reason="something else")


def test_a_tired_crew_goes_to_the_overridden_loss_and_nowhere_else(night: Night) -> None:
    tire(night)
    call_id, other, job = night.call(), night.call(), night.cast.job(lat=45.7, lon=-122.5)
    override(**night.by(night.cast.manager), crew_id=night.ready.pk, call_id=call_id, reason="two blocks from home")
    sent = send(**night.by(night.dispatcher), call_id=call_id, crew_id=night.ready.pk)
    at = NIGHT + timedelta(minutes=1)
    no = next(row for row in offers(call_id=other, now=at).not_offered if row.crew == "N1")
    assert (no.code, no.may_override) == ("rest", True)
    # The checker of plans, which knows nothing of overrides, accepts the route; no other visit may be put on it.
    more = night.visit(job)
    rows = crew_facts.rows_of([night.ready, night.empty], now=at)
    shot = snapshot.build(area=night.cast.area, day=TONIGHT, now=at, rows=rows, visits=[more])
    assert [key for key, _ in shot.limited] == [snapshot.crew_key(night.ready.pk)]
    problem = Problem.model_validate(shot.problem)
    plan = published_plan(shot)
    assert isinstance(plan, Plan)
    assert not check(problem, plan)
    mine = next(route for route in plan.routes if route.crew == snapshot.crew_key(night.ready.pk))
    assert [stop.visit for stop in mine.stops if stop.visit[0] == "v"] == [snapshot.visit_key(sent.visit_id)]
    tired = next(crew for crew in shot.problem["crews"] if crew["id"] == snapshot.crew_key(night.ready.pk))
    assert tired["skills"] == [f"agreed:{snapshot.visit_key(sent.visit_id)}"]


def test_another_pair_or_another_reason_needs_its_own_word(night: Night) -> None:
    tire(night)
    job = night.cast.job(lat=45.7, lon=-122.5)
    visit = night.visit(job, due_on=TONIGHT)
    said = override(**night.by(night.cast.manager), crew_id=night.ready.pk, job_id=job.pk, reason="one look",
                    until=NIGHT + timedelta(hours=2))  # fmt: skip
    assert said.until == NIGHT + timedelta(hours=2)
    handover.put_on_route(crew=night.ready, visit_id=visit.pk, fetch=None, now=NIGHT)

    def may_still() -> bool:
        rows = crew_facts.rows_of([night.ready], now=NIGHT)
        return bool(snapshot.build(area=night.cast.area, day=TONIGHT, now=NIGHT, rows=rows, visits=[visit]).limited)

    assert may_still()
    night.ready.helper = night.lapsed.lead
    assert not may_still()
    night.ready.helper = None
    Card.objects.filter(person=night.ready.lead).delete()
    (row,) = crew_facts.rows_of([night.ready], now=NIGHT)
    assert row.overrides
    shot = snapshot.build(area=night.cast.area, day=TONIGHT, now=NIGHT, rows=[row], visits=[visit])
    assert shot.problem["crews"][0]["skills"] == []
    assert crew_facts.rows_of([night.ready], now=NIGHT + timedelta(hours=2))[0].overrides == ()


def test_a_card_that_lapses_at_midnight_bars_the_night_crew_from_then_on(night: Night) -> None:
    Card.objects.filter(person=night.empty.lead).update(expires_on=TONIGHT)
    call_id = night.call()
    assert offered(offers(call_id=call_id, now=NIGHT), "N2") is not None
    assert offered(offers(call_id=call_id, now=NIGHT + timedelta(hours=2)), "N2") is None


@time_machine.travel(NIGHT, tick=False)
def test_pages_and_interface_take_the_same_word(night: Night) -> None:
    call_id = night.call()
    desk, boss = Client(), Client()
    desk.force_login(night.dispatcher)
    boss.force_login(night.cast.manager)
    at = f"/desk/calls/{call_id}"
    text = desk.get(f"{at}/offers").content.decode()
    assert "A manager may override this" in text
    assert f"override-{night.lapsed.pk}" not in text
    assert f"override-{night.lapsed.pk}" in boss.get(f"{at}/offers", headers={"X-Fragment": "1"}).content.decode()
    form = {"key": str(uuid4()), "crew_id": str(night.lapsed.pk), "override_reason": " "}
    refused = boss.post(f"{at}/override", form)
    assert refused.status_code == 422
    assert "Say in a few words" in refused.content.decode()
    said = boss.post(f"{at}/override", {**form, "override_reason": "renewal is in the mail"})
    assert (said.status_code, said["Location"]) == (302, f"{at}/offers#send-{night.lapsed.pk}")
    assert "renewal is in the mail" in desk.get(f"{at}/offers").content.decode()

    job = night.cast.job(lat=45.7, lon=-122.5)
    crews = f"/desk/jobs/{job.number}/crews"
    assert "A manager may override this" in desk.get(crews).content.decode()
    assert boss.post(crews, {**form, "key": str(uuid4())}).status_code == 422
    assert boss.post(crews, {**form, "key": str(uuid4()), "override_reason": "known owner"}).status_code == 302
    assert "known owner" in desk.get(f"/desk/jobs/{job.number}").content.decode()
    assert "may go by override" in desk.get(crews).content.decode()

    manager, dispatcher = Caller(night.cast.manager), Caller(night.dispatcher)
    second = night.cast.job(lat=45.7, lon=-122.5)
    body = {"crew_id": night.lapsed.pk, "reason": "by telephone"}
    assert dispatcher.post(f"jobs/{second.pk}/overrides", 403, **body)["code"] == "not_allowed"
    assert manager.post(f"jobs/{second.pk}/overrides", 201, **body)["job_number"] == second.number
    assert manager.post(f"calls/{call_id}/overrides", 422, **{**body, "reason": ""})["code"] == "override_needs_reason"
    listed = dispatcher.get(f"areas/{night.cast.area.code}/overrides?since={NIGHT.date()}T00:00:00Z")
    assert [row["reason"] for row in listed] == ["renewal is in the mail", "known owner", "by telephone"]
    crews_now = dispatcher.get(f"jobs/{second.pk}/crews")["crews"]
    assert {row["crew"]: bool(row["override"]) for row in crews_now} == {"N1": False, "N2": False, "N3": True}
