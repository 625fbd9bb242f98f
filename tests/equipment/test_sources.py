"""The nearest sources of a need: what is free, what jobs no longer need, who goes without, what is still short."""

from datetime import datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest

from equipment import selectors
from equipment.models import Condition, EquipmentModel, SizingReport
from equipment.selectors import Want
from jobs.models import Job, MaterialPoint, MaterialReading
from jobs.refusals import NotThere, Unusable
from tests.equipment.cast import DAY, HOUR, NIGHT, Cast


def sources(cast: Cast, *wants: Want, **more: Any) -> tuple[selectors.Source, ...]:
    return selectors.where_can_i_get(
        area_id=cast.area.pk,
        wants=wants or (Want(4, kind="air_mover"),),
        lat=45.44,
        lon=-122.6,
        starts_at=NIGHT,
        ends_at=NIGHT + DAY,
        now=NIGHT,
        **more,
    )


def spare(cast: Cast) -> list[tuple[str, str, int, int | None]]:
    found = selectors.spare_at_jobs(area_id=cast.area.pk, kinds=("air_mover", "lgr"), now=NIGHT)
    return [(row.model, row.why, row.count, row.hours_since_goal) for row in found]


def standing(cast: Cast, job: Job, room: str, *numbers: str, **how: Any) -> None:
    cast.units(*numbers, at=job, room_name=room, **{"condition": Condition.IN_USE, "water_category": 1, **how})


def point(cast: Cast, job: Job, number: int, room: str, *values: tuple[datetime, float]) -> None:
    """A point whose goal is 15, read so."""
    row = MaterialPoint.objects.create(
        job=job,
        number=number,
        room_name=room,
        material="drywall",
        meter="pin",
        scale="WME",
        dry_standard=12,
        goal=15,
    )
    for at, value in values:
        MaterialReading.objects.create(
            point=row, value=value, taken_at=at, recorded_at=at, taken_by=cast.lead, key=uuid4()
        )


def sized(
    cast: Cast, job: Job, at: datetime, *mix: tuple[str, int], short: tuple[tuple[str, int, int], ...] = ()
) -> None:
    report = {
        "mix": [{"kind": kind, "model": "any", "count": count} for kind, count in mix],
        "short": [{"kind": kind, "unit": "count", "wanted": wanted, "found": found} for kind, wanted, found in short],
    }
    SizingReport.objects.create(job=job, loss={}, report=report, rules="any", made_at=at, made_by=cast.lead)


def test_a_room_at_goal_gives_back_what_stands_in_it(cast: Cast) -> None:
    job = cast.job(stage="drying")
    standing(cast, job, "hall", "0001", "0002")
    standing(cast, job, "kitchen", "0003")
    standing(cast, job, "", "0004")
    point(cast, job, 1, "hall", (NIGHT - 30 * HOUR, 14), (NIGHT - 25 * HOUR, 19), (NIGHT - 20 * HOUR, 15))
    point(cast, job, 2, "hall", (NIGHT - 9 * HOUR, 11), (NIGHT - 3 * HOUR, 10))
    point(cast, job, 3, "kitchen", (NIGHT - 20 * HOUR, 14), (NIGHT - 2 * HOUR, 16))

    assert spare(cast) == [("Air mover", "hall at goal for 9 h", 2, 9)]


def test_a_point_that_was_never_read_keeps_its_room(cast: Cast) -> None:
    job = cast.job(stage="drying")
    standing(cast, job, "hall", "0001")
    point(cast, job, 1, "hall", (NIGHT - HOUR, 10))
    point(cast, job, 2, "hall")

    assert spare(cast) == []


def test_a_reading_that_was_corrected_counts_no_more(cast: Cast) -> None:
    job = cast.job(stage="drying")
    standing(cast, job, "hall", "0001")
    point(cast, job, 1, "hall", (NIGHT - 5 * HOUR, 10))
    old = MaterialReading.objects.get()
    MaterialReading.objects.create(
        point=old.point,
        value=30,
        taken_at=old.taken_at,
        recorded_at=NIGHT,
        taken_by=cast.lead,
        key=uuid4(),
        replaces=old,
    )

    assert spare(cast) == []


def test_what_stands_beyond_the_newest_sizing_can_go(cast: Cast) -> None:
    job = cast.job(stage="drying")
    standing(cast, job, "hall", "0001", "0002", "0003", "0004")
    standing(cast, job, "hall", "0009", model=cast.dehumidifier)
    sized(cast, job, NIGHT - DAY, ("air_mover", 1))
    sized(cast, job, NIGHT - HOUR, ("air_mover", 2), ("lgr", 2), short=(("air_mover", 3, 2),))

    assert spare(cast) == [("Air mover", "more than the sizing asks for", 1, None)]


def test_nothing_from_sewage_goes_straight_on_and_nothing_stands_twice(cast: Cast) -> None:
    dirty = cast.job(stage="at_goal", category=3)
    standing(cast, dirty, "hall", "0001", water_category=3)
    done = cast.job(stage="at_goal")
    standing(cast, done, "hall", "0002", "0003")
    standing(cast, done, "bath", "0004", water_category=3)
    point(cast, done, 1, "hall", (NIGHT - 7 * HOUR, 10))
    sized(cast, done, NIGHT, ("air_mover", 1))

    assert spare(cast) == [("Air mover", "the job at goal for 7 h", 2, 7)]


def test_each_source_says_who_goes_without_and_what_is_still_short(cast: Cast) -> None:
    cast.van.standing_stock = {"AM": 2}
    cast.van.lat, cast.van.lon = 45.44, -122.6
    cast.van.save()
    cast.units("0001", "0002", "0003", at=cast.van)
    cast.units("0004", "0005", "0006")
    cast.units("0007", rented=True, supplier="Yard", supplier_number="9", daily_cost=12, condition="broken")

    van, north, yard = sources(cast, Want(4, kind="air_mover"))

    assert (van.kind, van.drive_min, van.free, van.still_short, van.enough) == ("vehicle", 0, 3, 1, False)
    assert van.loses == "short of its standing stock until restocked: 2 Air mover"
    assert (north.kind, north.free, north.still_short) == ("warehouse", 3, 0)
    assert north.loses == "keeps for other calls: 0 Air mover"
    assert (yard.kind, yard.drive_min, yard.name) == ("supplier", None, "Yard")
    assert "$12.00 a day" in yard.costs


def test_a_unit_meets_one_want_and_its_own_model_first(cast: Cast) -> None:
    other = EquipmentModel.objects.create(
        code="AM-2", name="Low air mover", kind="air_mover", running_a=1, volume_cuft=2, weight_lb=20
    )
    cast.units("0001", "0002")
    cast.units("0003", model=other)

    (north,) = sources(cast, Want(5, kind="air_mover"), Want(2, model_id=other.pk))

    assert [(has.name, has.wanted, has.free) for has in north.has] == [("air mover", 5, 2), ("Low air mover", 2, 1)]
    assert north.still_short == 4


def test_what_is_kept_is_counted_over_all_models_of_a_want(cast: Cast) -> None:
    other = EquipmentModel.objects.create(
        code="AM-2", name="Low air mover", kind="air_mover", running_a=1, volume_cuft=2, weight_lb=20
    )
    cast.units("0001", "0002", "0003")
    cast.units("0004", "0005", model=other)

    (north,) = sources(cast, Want(4, kind="air_mover"))

    assert north.loses == "keeps for other calls: 0 Air mover, 1 Low air mover"


def test_a_vehicle_in_the_workshop_and_the_asking_job_are_no_sources(cast: Cast) -> None:
    cast.van.in_workshop = True
    cast.van.save()
    cast.units("0001", at=cast.van)
    job = cast.job(stage="at_goal")
    standing(cast, job, "hall", "0002")

    assert [source.kind for source in sources(cast)] == ["job"]
    assert sources(cast, not_at_job_id=job.pk) == ()


def test_minutes_come_from_the_caller(cast: Cast) -> None:
    cast.units("0001")
    cast.units("0002", at=cast.south)
    minutes = {cast.north.lat: 7, cast.south.lat: 90}

    found = sources(cast, drive_minutes=lambda spots: [minutes[lat] for lat, _ in spots])

    assert [(source.name, source.drive_min) for source in found] == [("North warehouse", 7), ("South warehouse", 90)]


@pytest.mark.parametrize("jobs", [1, 12])
def test_the_number_of_queries_is_fixed(cast: Cast, jobs: int, django_assert_num_queries: Any) -> None:
    for i in range(jobs):
        job = cast.job(stage="drying")
        standing(cast, job, "hall", f"1{i:03}")
        point(cast, job, 1, "hall", (NIGHT - timedelta(hours=i + 1), 10))
        sized(cast, job, NIGHT, ("air_mover", 0))
    cast.units("0001")
    with django_assert_num_queries(7):
        found = sources(cast, at_most=5)
    assert len(found) == min(jobs + 1, 5)


@pytest.mark.parametrize("want", [Want(1), Want(1, model_id=1, kind="lgr"), Want(0, kind="lgr")])
def test_a_need_that_says_nothing_is_refused(cast: Cast, want: Want) -> None:
    with pytest.raises(Unusable):
        sources(cast, want)
    with pytest.raises(NotThere):
        sources(cast, Want(1, kind="kite"))
