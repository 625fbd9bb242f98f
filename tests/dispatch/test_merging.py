"""Two open jobs of one loss: one goes on with everything, nothing lost and nothing twice, and they split again."""

from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client

from dispatch import merging
from dispatch.bookings import book_visit
from dispatch.callouts import answer_call_out
from dispatch.desk.job_pages import job_page
from dispatch.emergencies import Sent, send
from dispatch.models import CallOut, Notice, Stop
from equipment.audit import audit
from equipment.custody import place_units
from equipment.models import LoadLine, LoadList, Reservation
from equipment.reservations import confirm_hold, hold
from jobs import clock_board, joining
from jobs.merging import JobsApart, NotMerged
from jobs.models import Call, Contact, Job, JournalEntry, PrivateFacts, Promise, PromiseEnd, Room, Visit
from jobs.refusals import Unusable
from jobs.stops import arrive_at_stop
from jobs.visits import JobOver
from tests.dispatch.night import NIGHT, TONIGHT, Night

MINUTE = timedelta(minutes=1)
WINDOW = {"window_from": NIGHT + timedelta(hours=20), "window_until": NIGHT + timedelta(hours=22)}
LIVE = ["held", "confirmed"]


def booked(night: Night, number: str = "360-555-0142", *, confirm: bool = False, **answers: str) -> Job:
    """A second caller's job: a first visit booked for tomorrow, a hold of two air movers."""
    call_id = night.call(**answers)
    Call.objects.filter(pk=call_id).update(
        private_answers={**Call.objects.get(pk=call_id).private_answers, "callback_number": number, "care": "infant"}
    )
    made = book_visit(**night.by(night.dispatcher), call_id=call_id, due_on=TONIGHT + timedelta(days=1), **WINDOW)
    job = Job.objects.get(pk=made.job_id)
    held = hold(
        **night.by(night.dispatcher),
        job_id=job.pk,
        wanted=((night.cast.pool().pk, 2),),
        starts_at=NIGHT,
        ends_at=NIGHT + timedelta(days=3),
        keep_for=timedelta(hours=2),
        leads_reason="a wet hall",
    )
    if confirm:
        confirm_hold(**night.by(night.dispatcher), reservation_id=held.reservation_ids[0])
    return job


def sent(night: Night) -> Sent:
    return send(**night.by(night.dispatcher), call_id=night.call(), crew_id=night.ready.pk)


def state(job: Job) -> dict[str, Any]:
    """What a job has that goes over and comes back."""
    held = Reservation.objects.filter(job=job, state__in=LIVE)
    return {
        "people": sorted(Contact.objects.filter(job=job).values_list("pk", flat=True)),
        "calls": sorted(Call.objects.filter(job=job).values_list("pk", flat=True)),
        "rooms": sorted(Room.objects.filter(chamber__job=job).values_list("pk", "name")),
        "visits": sorted(Visit.objects.filter(job=job).values_list("pk", "state", "due_on", "reason")),
        "held": sorted(held.values_list("pool_id", "quantity", "starts_at", "ends_at", "state")),
        "private": list(PrivateFacts.objects.filter(job=job).values_list("access", "care")),
        "facts": [
            (row["hazards"], row["category"], row["payer_id"], row["language"], row["stage"], row["closed_at"])
            for row in Job.objects.filter(pk=job.pk).values()
        ],
    }


def test_the_job_that_goes_on_has_everything_once_and_a_split_gives_it_back(night: Night) -> None:
    first = Job.objects.get(pk=sent(night).job_id)
    other = booked(night, confirm=True, unit="2B", hazards="sewage", category="3", language="Spanish")
    before = (state(first), state(other))
    assert clock_board.clocks_of_job(other.pk, zone=night.cast.area.zone, now=NIGHT)
    running = Promise.objects.filter(end__isnull=True, job__isnull=False).count()
    merged = merging.merge_jobs(**night.by(night.dispatcher, NIGHT + MINUTE), job_id=other.pk, into_job_id=first.pk)
    first.refresh_from_db()
    other.refresh_from_db()
    now, gone = state(first), state(other)
    assert (other.stage, other.joined_to_id, other.closed_at) == ("closed", first.pk, NIGHT + MINUTE)
    assert now["people"] == sorted(before[0]["people"] + before[1]["people"])
    assert now["calls"] == sorted(before[0]["calls"] + before[1]["calls"])
    assert {name for _, name in now["rooms"]} == {"kitchen", "kitchen (unit 2B)"}, "the kitchen of another unit"
    assert now["held"] == sorted(before[0]["held"] + before[1]["held"])
    assert now["private"][0][1] == "infant"
    assert first.hazards == ["sewage"]
    assert first.category == 3
    assert first.language == "Spanish"
    assert gone["held"] == gone["people"] == gone["calls"] == gone["rooms"] == []
    # One first visit for one loss; the second caller's promise runs on until somebody is there.
    assert merged.visits_not_needed
    assert not merged.visit_ids
    assert [row.reason for row in other.visits.all()] == [f"joined to {first.number}"]
    assert Promise.objects.filter(end__isnull=True, job__isnull=False).count() == running
    assert "release what is held beyond that" in merged.next_step
    assert audit() == ()

    with pytest.raises(JobOver, match=first.number):
        joining.join_caller(**night.by(night.dispatcher), call_id=night.call(), job_id=other.pk)
    apart = merging.split_jobs(**night.by(night.dispatcher, NIGHT + 2 * MINUTE), job_id=other.pk)
    assert (state(first), state(other)) == before
    assert apart.split_from == first.number
    assert len(apart.visit_ids) == 1
    assert Promise.objects.filter(end__isnull=True, job__isnull=False).count() == running
    assert audit() == ()
    kinds = list(JournalEntry.objects.filter(job=other).order_by("pk").values_list("kind", flat=True))
    assert kinds[-2:] == ["job_joined", "jobs_split"]
    with pytest.raises(NotMerged):
        merging.split_jobs(**night.by(night.dispatcher), job_id=other.pk)


def test_a_crew_that_was_asked_for_the_second_job_hears_that_it_is_not_needed(night: Night) -> None:
    first = booked(night)
    Visit.objects.filter(job=first).update(due_at=NIGHT + 300 * MINUTE)
    second = sent(night)
    Notice.objects.update(state=Notice.State.SENT)
    merged = merging.merge_jobs(**night.by(night.dispatcher), job_id=second.job_id, into_job_id=first.pk)
    assert merged.visits_not_needed == (second.visit_id,)
    assert CallOut.objects.get().state == CallOut.State.CANCELED
    assert not Stop.objects.filter(visit=second.visit_id).exists()
    assert Notice.objects.get(text__startswith="No longer needed").person == night.ready.lead
    assert not LoadLine.objects.filter(load_list__state=LoadList.State.OPEN, job_id=second.job_id).exists()
    assert Room.objects.filter(chamber__job=first).count() == 1, "the same room of the same address, told twice"
    # Whoever arrives at the job that goes on keeps the promise made to the other caller too.
    arrival = Promise.objects.get(visit=second.visit_id)
    lines = clock_board.clocks_of_job(first.pk, zone=night.cast.area.zone, now=NIGHT)
    assert arrival.pk in [line.promise_id for line in lines]
    visit = Visit.objects.get(job=first)
    arrive_at_stop(**night.by(night.cast.manager, NIGHT + 20 * MINUTE), visit_id=visit.pk)
    assert PromiseEnd.objects.get(promise=arrival).end in ("kept", "broken")
    apart = merging.split_jobs(**night.by(night.dispatcher, NIGHT + 30 * MINUTE), job_id=second.job_id)
    assert apart.visit_ids == (second.visit_id,)
    assert Visit.objects.get(job=first).state == Visit.State.UNDER_WAY


def test_the_visit_and_its_call_out_go_over_where_nobody_is_due(night: Night) -> None:
    first, second = booked(night), sent(night)
    Visit.objects.filter(job=first).update(state=Visit.State.MISSED, reason="nobody home", told="the owner")
    stop = Stop.objects.get(visit=second.visit_id)
    merged = merging.merge_jobs(**night.by(night.dispatcher), job_id=second.job_id, into_job_id=first.pk)
    assert merged.visit_ids == (second.visit_id,)
    first.refresh_from_db()
    assert first.stage == Job.Stage.SENT
    assert Stop.objects.get(visit__job=first).start_at == stop.start_at
    answer_call_out(**night.by(night.cast.lead), call_out_id=second.call_out_id, answer="leaving")
    apart = merging.split_jobs(**night.by(night.dispatcher), job_id=second.job_id)
    assert apart.visit_ids == (second.visit_id,)
    assert Job.objects.get(pk=second.job_id).stage == Job.Stage.SENT
    assert audit() == ()


def test_what_cannot_be_joined_says_what_to_do(night: Night) -> None:
    first, second = booked(night), sent(night)
    ask = lambda ends, stays: merging.merge_jobs(  # noqa: E731
        **night.by(night.dispatcher), job_id=ends, into_job_id=stays
    )
    with pytest.raises(Unusable):
        ask(first.pk, first.pk)
    answer_call_out(**night.by(night.cast.lead), call_out_id=second.call_out_id, answer="leaving")
    with pytest.raises(merging.WorkBegun, match=f"join {first.number} to it instead"):
        ask(second.job_id, first.pk)
    third = booked(night, number="360-555-0143")
    place_units(**night.by(night.cast.lead), job_id=first.pk, room_name="kitchen", numbers=("2000",))
    with pytest.raises(merging.WorkBegun, match=r"So it has at .* move the equipment to the job that stays") as refused:
        ask(first.pk, second.job_id)
    assert "2000" in refused.value.message
    ask(third.pk, second.job_id)
    with pytest.raises(JobsApart, match=third.number):
        ask(second.job_id, first.pk)
    with pytest.raises(JobOver, match="was joined to"):
        ask(third.pk, first.pk)


def test_by_page_and_over_http(night: Night, client: Client) -> None:
    first, other = booked(night), booked(night, number="360-555-0143")
    client.force_login(night.dispatcher)
    page = client.get(f"/desk/jobs/{other.number}").content.decode()
    assert "This may be the same loss as" in page
    assert first.number in page
    answer = client.post(f"/desk/jobs/{other.number}/join", {"key": str(uuid4()), "join_with": "J-9", "stays": "other"})
    assert answer.status_code == 422
    assert 'value="J-9"' in answer.content.decode()
    url = f"/desk/jobs/{other.number}/join"
    answer = client.post(url, {"key": str(uuid4()), "join_with": first.number.lower(), "stays": "other"})
    assert answer.status_code == 302
    assert answer["Location"].endswith(first.number)
    page = client.get(f"/desk/jobs/{other.number}").content.decode()
    assert f"joined to {first.number}" in page
    answer = client.post(f"/api/v1/jobs/{other.pk}/split", {}, "application/json", HTTP_IDEMPOTENCY_KEY=str(uuid4()))
    assert answer.status_code == 200, answer.content
    assert answer.json()["split_from"] == first.number
    answer = client.post(
        f"/api/v1/jobs/{first.pk}/merge", {"into_job_id": other.pk}, "application/json",
        HTTP_IDEMPOTENCY_KEY=str(uuid4()),
    )  # fmt: skip
    assert answer.json()["job_number"] == other.number
    shown = job_page(area_id=night.cast.area.pk, number=other.number, now=NIGHT)
    assert shown is not None
    assert shown.loss.joined == (first.number,)
