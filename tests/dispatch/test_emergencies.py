"""Sending a crew: job, holds, route, load list and call-out, all or nothing, once."""

from uuid import uuid4

import pytest

from dispatch.emergencies import CrewCannotGo, send
from dispatch.models import CallOut, Notice, Stop
from dispatch.offering import offers
from equipment.models import LoadList, Reservation
from jobs.models import Call, DueWork, Job, Visit
from jobs.refusals import KeyReused, NotAllowed
from tests.dispatch.night import CAPACITY, NIGHT, Night


def test_sending_does_all_of_it(night: Night) -> None:
    call_id = night.call()
    sent = send(**night.by(night.dispatcher), call_id=call_id, crew_id=night.ready.pk)

    job = Job.objects.get(pk=sent.job_id)
    assert job.stage == Job.Stage.SENT
    assert Call.objects.get(pk=call_id).ended_as == "sent"
    stop = Stop.objects.get(visit_id=sent.visit_id)
    assert (stop.crew, stop.start_at) == (night.ready, sent.arrive_at)
    assert Visit.objects.get(pk=sent.visit_id).promised_start == sent.arrive_at
    promises = Reservation.objects.filter(job=job)
    assert {promise.state for promise in promises} == {"confirmed"}
    assert {promise.sizing_id for promise in promises} == {sent.sizing_id}
    assert sum(promise.quantity for promise in promises) == sum(row["count"] for row in sent.held)
    assert CallOut.objects.get().steps.get().person == night.ready.lead
    assert Notice.objects.get().person == night.ready.lead
    assert DueWork.objects.filter(kind="dispatch.escalate_call_out", state="pending").count() == 1
    assert sent.load_list_id is None


def test_what_is_fetched_is_held_there_and_stands_on_the_warehouses_load_list(night: Night) -> None:
    sent = send(**night.by(night.dispatcher), call_id=night.call(), crew_id=night.empty.pk)

    load_list = LoadList.objects.get(pk=sent.load_list_id)
    assert load_list.warehouse == night.cast.north
    assert load_list.vehicle == night.cast.other_van
    wanted = {line.model.code: line.wanted for line in load_list.lines.all()}
    assert wanted == {row["model"]: row["count"] for row in sent.held}
    assert all(line.reservation is not None for line in load_list.lines.all())
    stop = Stop.objects.get(visit_id=sent.visit_id)
    assert stop.fetch_from == night.cast.north
    assert stop.fetch_at is not None
    assert stop.fetch_at < stop.start_at


def test_the_same_key_sends_once_and_another_crew_with_it_is_refused(night: Night) -> None:
    call_id, common = night.call(), night.by(night.dispatcher)
    first = send(**common, call_id=call_id, crew_id=night.ready.pk)
    assert send(**common, call_id=call_id, crew_id=night.ready.pk) == first
    assert Job.objects.count() == 1
    with pytest.raises(KeyReused):
        send(**common, call_id=call_id, crew_id=night.empty.pk)


def test_a_crew_that_cannot_go_is_refused_with_its_reason_and_nothing_is_written(night: Night) -> None:
    call_id = night.call()
    with pytest.raises(CrewCannotGo, match="lapsed after Jan 14"):
        send(**night.by(night.dispatcher), call_id=call_id, crew_id=night.lapsed.pk)
    assert not Job.objects.exists()
    assert not Reservation.objects.exists()
    assert Call.objects.get(pk=call_id).ended_at is None


def test_a_loss_larger_than_a_vehicle_is_served_with_a_second_load(night: Night) -> None:
    call_id = night.call(room__a__line="hall 30x40 floor 1200 walls 280")
    found = offers(call_id=call_id, now=NIGHT)
    assert found.offers
    assert found.needed["air_mover"] > CAPACITY["air_mover"]
    assert found.first_load["air_mover"] == CAPACITY["air_mover"]
    assert found.second_load["air_mover"] == found.needed["air_mover"] - CAPACITY["air_mover"]

    sent = send(**night.by(night.dispatcher), call_id=call_id, crew_id=night.empty.pk)

    delivery = Visit.objects.get(job_id=sent.job_id, kind=Visit.Kind.DELIVERY)
    assert delivery.needs["deliver"]["air_mover"] == sent.second_load["air_mover"]
    listed = LoadList.objects.get(pk=sent.load_list_id)
    movers = sum(line.wanted for line in listed.lines.filter(model__kind="air_mover"))
    assert movers == CAPACITY["air_mover"]


def test_two_calls_never_share_a_unit(night: Night) -> None:
    for _ in range(3):
        send(**night.by(night.dispatcher), call_id=night.call(), crew_id=night.ready.pk)
    for pool in {promise.pool for promise in Reservation.objects.select_related("pool")}:
        promised = sum(promise.quantity for promise in pool.reservations.filter(state="confirmed"))
        assert promised <= pool.stock


def test_only_the_desk_sends(night: Night) -> None:
    call_id = night.call()
    with pytest.raises(NotAllowed):
        send(key=uuid4(), actor=night.cast.keeper, now=NIGHT, call_id=call_id, crew_id=night.ready.pk)
