"""Counted by model in the night, the numbers later: the journal ends up as if they had been scanned then."""

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from equipment import custody, fast_counts, load_lists, reservations, selectors
from equipment.audit import audit
from equipment.models import FastCount, Reservation
from equipment.reservations.shortage import Short
from jobs.refusals import Unusable
from tests.equipment.cast import DAY, HOUR, NIGHT, Cast
from tests.rooms.floor.hands import press, words

pytestmark = pytest.mark.django_db
ADDRESS = "/warehouse/north/by-model"


def counted(cast: Cast, quantity: int = 3, **how: Any) -> int:
    return fast_counts.count_by_model(
        **cast.by(cast.lead, **{"at": NIGHT, **how}),
        warehouse_id=cast.north.pk,
        vehicle_id=cast.van.pk,
        model_id=cast.mover.pk,
        quantity=quantity,
    )


def test_six_air_movers_are_written_down_and_shown_until_their_numbers_are_given(keeper: Client, cast: Cast) -> None:
    cast.units("0001", "0002", since=timezone.now() - DAY)
    done = press(keeper, ADDRESS, "count", quantity=2, model_id=cast.mover.pk, vehicle_id=cast.van.pk, note="J-7")
    assert "2 Air mover written down" in words(done)
    assert "Air mover on Van 1 2 counted" in words(done)
    assert "2 Air mover on Van 1" in words(keeper.get("/warehouse/north"))
    assert cast.pool().stock == 2
    count = FastCount.objects.get()
    address = f"{ADDRESS}/{count.pk}"
    assert "1 of 2 numbers to come" in words(press(keeper, address, "scan", numbers="1"))
    assert (str(cast.now("0001").holder), cast.now("0001").since) == ("Van 1", count.happened_at)
    assert "All numbers are given." in words(press(keeper, address, "scan", numbers="2"))
    assert "Every count has its numbers." in words(keeper.get(ADDRESS))
    back = press(keeper, address, "take_back", number="0002")
    assert "1 of 2 numbers to come" in words(back)
    assert str(cast.now("0002").holder) == "North warehouse"
    assert audit() == ()


def test_what_moved_on_since_is_only_written_down(cast: Cast) -> None:
    cast.units("0001", "0002")
    count = counted(cast)
    job = cast.job()
    custody.scan_out(**cast.by(cast.lead, NIGHT + HOUR), numbers=("2",), vehicle_id=cast.van.pk, job_id=job.pk)
    custody.place_units(**cast.by(cast.lead, NIGHT + HOUR), job_id=job.pk, room_name="hall", numbers=("2",))
    moves = cast.now("0002").unit.moves.count()
    named = fast_counts.name_fast_count(**cast.by(cast.keeper, NIGHT + DAY), fast_count_id=count, numbers=("1", "2"))
    assert (named.lacking, {scan.number: scan.word for scan in named.scans}) == (1, {"0001": "loaded", "0002": "named"})
    assert cast.now("0002").unit.moves.count() == moves
    assert cast.now("0002").condition == "in_use"
    assert cast.now("0001").since == NIGHT
    assert audit() == ()


def test_numbers_that_cannot_be_of_the_count_are_refused_and_change_nothing(cast: Cast) -> None:
    cast.units("0001", "0002", "0003")
    cast.units("0009", model=cast.dehumidifier)
    first, second = counted(cast, 1), counted(cast, 2)

    def name(count: int, *numbers: str) -> fast_counts.Named:
        return fast_counts.name_fast_count(**cast.by(cast.keeper, NIGHT + HOUR), fast_count_id=count, numbers=numbers)

    with pytest.raises(fast_counts.NotOfThisCount, match="0009 is a Low-grain dehumidifier; Air mover was counted"):
        name(second, "1", "9")
    with pytest.raises(fast_counts.NotOfThisCount, match="2 numbers for 1 counted"):
        name(first, "1", "2")
    assert str(cast.now("0001").holder) == "North warehouse"
    name(first, "1")
    with pytest.raises(fast_counts.CountSettled):
        name(first, "2")
    with pytest.raises(fast_counts.NotOfThisCount, match="another count of the same night"):
        name(second, "1")
    name(second, "2")
    with pytest.raises(fast_counts.NotOfThisCount, match="given for this count before"):
        name(second, "2")
    assert audit() == ()


def test_a_count_without_numbers_is_settled_with_a_reason(keeper: Client, cast: Cast) -> None:
    count = counted(cast, at=timezone.now())
    assert press(keeper, ADDRESS, "explain", id=count).status_code == 422
    press(keeper, ADDRESS, "explain", id=count, reason="Taken by another crew")
    assert FastCount.objects.get().explanation == "Taken by another crew"
    assert "Every count has its numbers." in words(keeper.get(ADDRESS))


def test_a_count_is_of_something_and_not_of_last_week(keeper: Client, cast: Cast) -> None:
    refused = press(keeper, ADDRESS, "count", quantity="", model_id=cast.mover.pk, vehicle_id=cast.van.pk, note="kept")
    assert refused.status_code == 422
    assert "Say how many were loaded." in words(refused)
    assert 'value="kept"' in refused.content.decode()
    with pytest.raises(Unusable, match="between 1 and 100"):
        counted(cast, 101)
    with pytest.raises(Unusable, match="older than seven days"):
        fast_counts.count_by_model(
            **cast.by(cast.lead),
            warehouse_id=cast.north.pk,
            vehicle_id=cast.van.pk,
            model_id=cast.mover.pk,
            quantity=1,
            happened_at=NIGHT - timedelta(days=8),
        )
    assert keeper.get(f"{ADDRESS}/999").status_code == 404
    count = counted(cast)
    assert keeper.get(f"/warehouse/south/by-model/{count}").status_code == 404


@pytest.mark.parametrize("many", [1, 7])
def test_the_number_of_queries_does_not_depend_on_the_number_of_counts(
    keeper: Client, cast: Cast, many: int, django_assert_num_queries: Any
) -> None:
    cast.units(*[f"{n:04}" for n in range(1, many + 1)])
    for _ in range(many):
        count = counted(cast, 9, at=timezone.now())
    fast_counts.name_fast_count(
        **cast.by(cast.keeper, timezone.now()),
        fast_count_id=count,
        numbers=tuple(f"{n:04}" for n in range(1, many + 1)),
    )
    for page, queries in ((ADDRESS, 8), (f"{ADDRESS}/{count}", 6), ("/warehouse/north", 11)):
        with django_assert_num_queries(queries):
            assert keeper.get(page).status_code == 200


def test_what_was_counted_away_is_promised_to_nobody_until_the_numbers_come(keeper: Client, cast: Cast) -> None:
    cast.units(*[f"{n:04}" for n in range(1, 7)])
    now, pool = timezone.now(), cast.pool()
    period = {"starts_at": now, "ends_at": now + timedelta(days=2), "keep_for": timedelta(hours=1)}

    def hold(units: int) -> int:
        job = cast.job()
        wanted = ((pool.pk, units),)
        held = reservations.hold(
            **cast.by(cast.dispatcher, now), job_id=job.pk, wanted=wanted, **period, leads_reason="wet hall"
        )
        return held.reservation_ids[0]

    def free() -> tuple[int, int, int]:
        (row,) = [row for row in selectors.availability(area_id=cast.area.pk, now=now) if row.pool_id == pool.pk]
        return row.stock, row.counted_away, row.free

    promised = hold(2)
    line = (cast.mover.pk, Reservation.objects.get(pk=promised).job_id, promised, 1, 2)
    load_lists.write_load_list(
        **cast.by(cast.dispatcher, now),
        vehicle_id=cast.van.pk,
        warehouse_id=cast.north.pk,
        departs_at=now,
        crew_name="Crew A",
        lines=(line,),
    )
    count = {"warehouse_id": cast.north.pk, "model_id": cast.mover.pk}
    fast_counts.count_by_model(**cast.by(cast.lead, now), **count, vehicle_id=cast.van.pk, quantity=2)
    assert free() == (6, 0, 4), "what its own load list promises is promised once"
    beyond = fast_counts.count_by_model(**cast.by(cast.lead, now), **count, vehicle_id=cast.other_van.pk, quantity=3)
    assert free() == (6, 3, 1)
    with pytest.raises(Short):
        hold(2)
    assert "nobody is promised these units" in words(keeper.get("/warehouse/north/by-model"))
    fast_counts.name_fast_count(**cast.by(cast.keeper, now), fast_count_id=beyond, numbers=("5", "6"))
    assert free() == (4, 1, 1)
    fast_counts.explain_fast_count(**cast.by(cast.keeper, now), fast_count_id=beyond, explanation="counted twice")
    assert free() == (4, 0, 2)
    fast_counts.count_by_model(**cast.by(cast.lead, now), **count, vehicle_id=cast.other_van.pk, quantity=4)
    (alarm,) = selectors.open_alarms(area_id=cast.area.pk)
    assert (alarm.kind, free()) == ("over_promised", (4, 4, -2))
    assert audit() == ()
