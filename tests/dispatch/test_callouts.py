"""The call-out: asked, answered or silent, the next person, the managers; nobody watches the clock."""

from datetime import timedelta

import pytest

from dispatch.callouts import NobodyAsks, NotAsked, answer_call_out
from dispatch.emergencies import Sent, send
from dispatch.models import CallOut, Card, Notice, Stop
from equipment.models import Alarm, Reservation
from jobs import due_work
from tests.dispatch.night import NIGHT, Night, person

FIVE = timedelta(minutes=5)


@pytest.fixture
def sent(night: Night) -> Sent:
    return send(**night.by(night.dispatcher), call_id=night.call(), crew_id=night.ready.pk)


def run_until(at: timedelta) -> None:
    """Let a runner work through every half minute until `at` after the call."""
    moment = timedelta(0)
    while moment <= at:
        due_work.run_due(clock=lambda: NIGHT + moment)  # noqa: B023 (called before the next round)
        moment += timedelta(seconds=30)


def asked() -> list[tuple[str, str]]:
    return [(step.person.name, step.answer) for step in CallOut.objects.get().steps.all()]


def test_silence_asks_the_next_who_may_go_and_passes_over_who_may_not(night: Night, sent: Sent) -> None:
    run_until(FIVE - timedelta(minutes=1))
    assert asked() == [("Ada", "")]
    run_until(FIVE)
    assert asked() == [("Ada", "silent"), ("Ben", "")]
    # Cas is next on the order, but the card lapsed: after Ben the managers are told.
    run_until(2 * FIVE)
    assert asked() == [("Ada", "silent"), ("Ben", "silent")]
    assert CallOut.objects.get().state == CallOut.State.EXHAUSTED
    assert Alarm.objects.get().kind == "nobody_answers"


def test_managers_are_told_once_when_nobody_is_left(night: Night, sent: Sent) -> None:
    boss = person(night.cast, "Mo", night.cast.manager)
    run_until(3 * FIVE)
    assert Notice.objects.filter(person=boss).count() == 1


def test_yes_ends_it_and_stops_the_clock(night: Night, sent: Sent) -> None:
    answered = answer_call_out(
        **night.by(night.cast.lead, NIGHT + FIVE / 2), call_out_id=sent.call_out_id, answer="leaving"
    )
    assert answered.state == CallOut.State.ACCEPTED
    run_until(4 * FIVE)
    assert asked() == [("Ada", "leaving")]


def test_no_asks_the_next_at_once(night: Night, sent: Sent) -> None:
    answer_call_out(**night.by(night.cast.lead), call_out_id=sent.call_out_id, answer="cannot")
    assert asked() == [("Ada", "cannot"), ("Ben", "")]
    run_until(FIVE - timedelta(minutes=1))
    assert asked() == [("Ada", "cannot"), ("Ben", "")]


def test_who_says_yes_later_takes_the_visit_and_the_equipment_is_held_anew(night: Night, sent: Sent) -> None:
    run_until(FIVE)
    ben = night.empty.lead.user
    answered = answer_call_out(**night.by(ben, NIGHT + FIVE * 1.5), call_out_id=sent.call_out_id, answer="leaving")

    assert answered.crew_id == night.empty.pk
    stop = Stop.objects.get(visit_id=sent.visit_id)
    assert stop.crew == night.empty
    # Nothing is aboard, so the route has the time to load, and the lead is told where.
    assert stop.fetch_from == night.cast.north
    assert stop.fetch_at is not None
    assert stop.fetch_at < stop.start_at
    live = Reservation.objects.filter(job_id=sent.job_id, state__in=["held", "confirmed"])
    assert live
    assert {promise.pool.place.warehouse for promise in live} == {night.cast.north}


def test_a_late_yes_of_the_first_still_counts_while_the_second_is_asked(night: Night, sent: Sent) -> None:
    run_until(FIVE)
    answered = answer_call_out(
        **night.by(night.cast.lead, NIGHT + FIVE * 1.2), call_out_id=sent.call_out_id, answer="leaving"
    )
    assert (answered.state, answered.crew_id) == (CallOut.State.ACCEPTED, night.ready.pk)


def test_who_was_not_asked_cannot_answer_and_an_ended_call_out_takes_no_answer(night: Night, sent: Sent) -> None:
    with pytest.raises(NotAsked):
        answer_call_out(**night.by(night.lapsed.lead.user), call_out_id=sent.call_out_id, answer="leaving")
    answer_call_out(
        **night.by(night.dispatcher), call_out_id=sent.call_out_id, answer="leaving", person_id=night.ready.lead_id
    )
    with pytest.raises(NobodyAsks):
        answer_call_out(**night.by(night.cast.lead), call_out_id=sent.call_out_id, answer="cannot")


def test_a_card_renewed_meanwhile_is_seen(night: Night, sent: Sent) -> None:
    Card.objects.filter(person=night.lapsed.lead).update(expires_on=None)
    run_until(2 * FIVE)
    assert asked()[-1] == ("Cas", "")
