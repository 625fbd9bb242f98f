"""Reading equipment: what is free and when, load lists, histories, the cleaning queue; in a fixed number of queries."""

from datetime import timedelta

import pytest

from equipment import custody, load_lists, reservations, selectors
from tests.equipment.cast import DAY, HOUR, NIGHT, Cast

pytestmark = pytest.mark.django_db


def promise(cast: Cast, quantity: int, start=NIGHT, end=NIGHT + DAY, job=None) -> int:
    return reservations.hold(
        **cast.by(cast.dispatcher),
        job_id=(job or cast.job()).pk,
        wanted=((cast.pool().pk, quantity),),
        starts_at=start,
        ends_at=end,
        keep_for=HOUR,
        leads_reason="wet",
    ).reservation_ids[0]


def test_free_now_then_and_from_when(cast: Cast, django_assert_num_queries) -> None:
    cast.units("0001", "0002", "0003")
    cast.units("0004", at=cast.van)
    cast.units("0005", condition="not_yet_cleaned")
    promise(cast, 2, NIGHT + HOUR, NIGHT + 3 * HOUR)
    with django_assert_num_queries(3):
        rows = selectors.availability(area_id=cast.area.pk, now=NIGHT, wanted=2)
    assert [(row.place, row.stock, row.free, row.not_ready) for row in rows] == [
        ("Van 1", 1, 1, 0),
        ("North warehouse", 3, 3, 1),
    ]
    assert rows[1].free_until == NIGHT + HOUR
    assert rows[1].free_from == NIGHT + 3 * HOUR  # two of them for the usual stay
    assert rows[0].free_from is None
    (later,) = [
        row
        for row in selectors.availability(area_id=cast.area.pk, now=NIGHT, at=NIGHT + 2 * HOUR)
        if row.place == "North warehouse"
    ]
    assert (later.promised, later.free) == (2, 1)
    (holding,) = selectors.who_holds(pool_id=rows[1].pool_id, not_before=NIGHT)
    assert (holding.quantity, holding.ends_at) == (2, NIGHT + 3 * HOUR)


def test_live_stock_aboard(cast: Cast, django_assert_num_queries) -> None:
    cast.units("0001", "0002")
    job = cast.job()
    custody.scan_out(**cast.by(cast.keeper), numbers=("1",), vehicle_id=cast.van.pk, job_id=job.pk)
    custody.scan_out(**cast.by(cast.keeper), numbers=("2",), vehicle_id=cast.van.pk)
    cast.units("0003", at=cast.van, condition="held_back", water_category=3)
    with django_assert_num_queries(1):
        (row,) = selectors.aboard(area_id=cast.area.pk)
    assert (row.model_code, row.ready, row.for_jobs, row.dirty) == ("AM", 1, 1, 1)


def test_lists_say_what_cannot_be_filled_and_where_else_it_is(cast: Cast, django_assert_num_queries) -> None:
    cast.units("0001")
    cast.units("0002", "0003", at=cast.south)
    job = cast.job()
    list_id = load_lists.write_load_list(
        **cast.by(cast.dispatcher),
        vehicle_id=cast.van.pk,
        warehouse_id=cast.north.pk,
        departs_at=NIGHT + HOUR,
        crew_name="Crew A",
        lines=((cast.mover.pk, job.pk, None, 1, 3), (cast.dehumidifier.pk, job.pk, None, 2, 1)),
    )
    custody.scan_out(**cast.by(cast.keeper), numbers=("1",), vehicle_id=cast.van.pk, load_list_id=list_id)
    with django_assert_num_queries(5):
        (listed,) = selectors.load_lists(warehouse_id=cast.north.pk, now=NIGHT)
    last_stop, first_stop = listed.lines
    assert (last_stop.stop_order, first_stop.stop_order) == (2, 1)
    assert (first_stop.loaded, first_stop.lacking, first_stop.cannot_fill) == (1, 2, 2)
    assert first_stop.elsewhere == (selectors.Ready("South warehouse", 2),)
    assert first_stop.numbers == ("0001",)


def test_history_reads_as_a_list_with_corrections_kept(cast: Cast, django_assert_num_queries) -> None:
    cast.units("0001")
    (scan,) = custody.scan_out(**cast.by(cast.keeper), numbers=("1",), vehicle_id=cast.van.pk).scans
    custody.correct_move(
        **cast.by(cast.keeper, NIGHT + HOUR), move_id=scan.move_id, vehicle_id=cast.other_van.pk, reason="wrong van"
    )
    with django_assert_num_queries(2):
        history = selectors.unit_history("0001")
    assert [(row.what, row.to_place, row.counts) for row in history.rows] == [
        ("correction", "Van 2", True),
        ("loaded", "Van 1", False),
        ("first entry", "North warehouse", True),
    ]
    assert history.rows[0].note == "wrong van"
    assert history.unit.place == "Van 2"


def test_cleaning_queue_begins_with_what_is_short(cast: Cast, django_assert_num_queries) -> None:
    cast.units("0001", "0002", model=cast.dehumidifier)
    cast.units("0003", model=cast.dehumidifier, condition="not_yet_cleaned", since=NIGHT - 2 * DAY)
    cast.units("0004", condition="held_back", water_category=3)
    cast.units("0005", condition="broken", since=NIGHT - 9 * DAY)
    with django_assert_num_queries(3):
        queue = selectors.cleaning_queue(warehouse_id=cast.north.pk, now=NIGHT)
    assert [row.number for row in queue] == ["0004", "0003", "0005"]
    assert [step.word for step in queue[0].steps] == ["decontaminated", "filter_changed", "tested"]


def test_what_a_job_should_give_back(cast: Cast, django_assert_num_queries) -> None:
    cast.units("0001", "0002", at=cast.van)
    job = cast.job()
    custody.place_units(**cast.by(cast.lead), job_id=job.pk, room_name="hall", numbers=("1", "2"))
    custody.take_up_units(**cast.by(cast.lead, NIGHT + DAY), job_id=job.pk, vehicle_id=cast.van.pk, numbers=("1",))
    custody.scan_in(**cast.by(cast.keeper, NIGHT + DAY), numbers=("1",), warehouse_id=cast.north.pk)
    with django_assert_num_queries(2):
        back = selectors.back_from_job(job_id=job.pk, warehouse_id=cast.north.pk)
    assert (back.expected, back.here, [row.number for row in back.missing]) == (2, 1, ["0002"])


def test_sources_are_ranked_by_how_far_they_are(cast: Cast, django_assert_num_queries) -> None:
    cast.units("0001", "0002")
    cast.units("0003", at=cast.south)
    done = cast.job(stage="at_goal", lat=45.43)
    cast.units("0004", at=done, condition="in_use", water_category=1)
    sewage = cast.job(stage="at_goal", category=3)
    cast.units("0005", at=sewage, condition="in_use", water_category=3)
    with django_assert_num_queries(7):
        found = selectors.where_can_i_get(
            area_id=cast.area.pk,
            wants=(selectors.Want(2, model_id=cast.mover.pk),),
            lat=45.44,
            lon=-122.6,
            starts_at=NIGHT,
            ends_at=NIGHT + DAY,
            now=NIGHT,
        )
    assert [(s.kind, s.free, s.enough) for s in found] == [
        ("warehouse", 1, False),
        ("job", 1, False),
        ("warehouse", 2, True),
    ]


def test_units_left_behind_and_unseen(cast: Cast) -> None:
    job = cast.job(stage="picked_up")
    cast.units("0001", at=job, condition="in_use")
    cast.units("0002", since=NIGHT - 30 * DAY)
    assert [row.number for row in selectors.units_at_finished_jobs(area_id=cast.area.pk)] == ["0001"]
    unseen = selectors.not_seen_since(area_id=cast.area.pk, before=NIGHT - timedelta(days=7))
    assert [row.number for row in unseen] == ["0002"]
