"""Who can go, with what, when: every crew in exactly one list, with the reason."""

from datetime import timedelta

import pytest

from dispatch.models import Crew, Stop, WorkSpell
from dispatch.offering import offers
from jobs.models import Visit
from jobs.opening import NotEnoughYet
from tests.dispatch.night import NIGHT, Night


def test_every_crew_stands_in_exactly_one_list(night: Night) -> None:
    found = offers(call_id=night.call(), now=NIGHT)

    offered = [row.crew for row in found.offers]
    assert sorted(offered + [row.crew for row in found.not_offered]) == ["N1", "N2", "N3"]
    assert offered == ["N1", "N2"]
    assert "Cas's water damage technician card lapsed after Jan 14" in found.not_offered[0].reason


def test_what_is_aboard_is_not_fetched_and_what_is_missing_is(night: Night) -> None:
    ready, empty = offers(call_id=night.call(), now=NIGHT).offers

    assert ready.fetch is None
    assert ready.aboard == {"air_mover": 12, "lgr": 2}
    assert empty.fetch is not None
    assert empty.fetch.take == offers(call_id=night.call(), now=NIGHT).needed
    # The detour and the time to load lie inside the arrival.
    assert empty.fetch.leave_at - empty.fetch.arrive_at == timedelta(seconds=night.cast.north.load_s)
    assert empty.arrive_at > empty.fetch.leave_at


def test_a_promised_visit_that_would_move_is_named(night: Night) -> None:
    job = night.cast.job(lat=45.7, lon=-122.5)
    soon = NIGHT + timedelta(minutes=20)
    visit = night.visit(job, promised_start=soon)
    Stop.objects.create(
        crew=night.ready, visit=visit, position=1, arrive_at=soon, start_at=soon, leave_at=soon + timedelta(minutes=40)
    )

    ready = next(row for row in offers(call_id=night.call(), now=NIGHT).offers if row.crew == "N1")

    where = {change["job"] for change in ready.moved}
    assert where <= {job.number}
    assert where or ready.arrive_at > soon


def test_a_tired_lead_and_a_vehicle_in_the_workshop_are_told(night: Night) -> None:
    WorkSpell.objects.create(
        person=night.ready.lead,
        starts_at=night.ready.starts_at - timedelta(hours=9),
        ends_at=night.ready.starts_at - timedelta(hours=3),
    )
    night.cast.other_van.in_workshop = True
    night.cast.other_van.save()

    why = {row.crew: row.code for row in offers(call_id=night.call(), now=NIGHT).not_offered}

    assert why == {"N1": "rest", "N2": "vehicle_out", "N3": "skills"}


def test_sewage_asks_for_microbial_leads_and_an_air_scrubber(night: Night) -> None:
    found = offers(call_id=night.call(category="3", water_source="sewage"), now=NIGHT)

    assert found.offers == ()
    assert all("microbial" in row.reason or "water damage" in row.reason for row in found.not_offered)
    # No air movers before cleaning on category 3 water.
    assert "air_mover" not in found.needed


def test_a_bigger_loss_needs_more_and_a_farther_one_takes_longer(night: Night) -> None:
    near = offers(call_id=night.call(), now=NIGHT)
    big = offers(call_id=night.call(room__a__line="hall 30x40 floor 1200 walls 200"), now=NIGHT)
    far = offers(call_id=night.call(zip_code="97058"), now=NIGHT)

    assert big.needed["air_mover"] > near.needed["air_mover"]
    assert far.offers[0].arrive_at > near.offers[0].arrive_at


def test_a_call_that_says_too_little_names_what_is_missing(night: Night) -> None:
    with pytest.raises(NotEnoughYet, match="power"):
        offers(call_id=night.call(power=""), now=NIGHT)


def test_offers_take_a_fixed_number_of_queries(night: Night, django_assert_num_queries) -> None:  # type: ignore[no-untyped-def]
    call_id = night.call()
    with django_assert_num_queries(QUERIES):
        offers(call_id=call_id, now=NIGHT)
    for number in range(8):
        job = night.cast.job(lat=45.5 + number / 50)
        at = NIGHT + timedelta(hours=1, minutes=50 * number)
        visit = Visit.objects.create(job=job, kind="monitoring", due_on=night.ready.service_day, service_s=600)
        crew = Crew.objects.get(name="N1" if number % 2 else "N2")
        Stop.objects.create(crew=crew, visit=visit, position=number, arrive_at=at, start_at=at, leave_at=at)
    with django_assert_num_queries(QUERIES):
        offers(call_id=call_id, now=NIGHT)


QUERIES = 21
