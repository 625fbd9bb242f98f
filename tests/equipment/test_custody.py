"""Who has what: loading, placing, taking up, bringing back, cleaning; late uploads and corrections."""

from datetime import timedelta

import pytest

from equipment import custody, load_lists, reservations
from equipment.audit import audit
from equipment.models import Alarm, Discrepancy, LoadList, Move, Reservation
from jobs.refusals import Unusable
from tests.equipment.cast import DAY, HOUR, NIGHT, Cast

pytestmark = pytest.mark.django_db
MINUTE = timedelta(minutes=1)


def held(cast: Cast, job, quantity: int, pool=None) -> int:
    answer = reservations.hold(
        **cast.by(cast.dispatcher),
        job_id=job.pk,
        wanted=(((pool or cast.pool()).pk, quantity),),
        starts_at=NIGHT,
        ends_at=NIGHT + 4 * DAY,
        keep_for=30 * MINUTE,
        leads_reason="wet kitchen",
    )
    return answer.reservation_ids[0]


def stock(cast: Cast, at=None) -> int:
    return cast.pool(at=at).stock


def test_a_unit_goes_round_and_counts_where_it_can_work(cast: Cast) -> None:
    """One unit: held, loaded, placed, taken up, brought in, cleaned; what is free follows each step."""
    cast.units("0001", "0002")
    job = cast.job()
    promise = held(cast, job, 1)
    custody.scan_out(**cast.by(cast.keeper), numbers=("1",), vehicle_id=cast.van.pk, job_id=job.pk)
    assert (stock(cast), Reservation.objects.get().drawn, Reservation.objects.get().state) == (2, 1, "confirmed")
    custody.place_units(
        **cast.by(cast.lead, NIGHT + HOUR),
        job_id=job.pk,
        room_name="kitchen",
        numbers=("0001",),
        vehicle_id=cast.van.pk,
    )
    now = cast.now("0001")
    assert (str(now.holder), now.room_name, now.condition, now.pool) == (job.number, "kitchen", "in_use", cast.pool())
    assert not Discrepancy.objects.exists()
    custody.take_up_units(**cast.by(cast.lead, NIGHT + DAY), job_id=job.pk, vehicle_id=cast.van.pk, numbers=("0001",))
    assert (cast.now("0001").condition, stock(cast), stock(cast, cast.van)) == ("not_yet_cleaned", 1, 0)
    assert (Reservation.objects.get(pk=promise).state, Reservation.objects.get().quantity) == ("closed", 0)
    custody.scan_in(**cast.by(cast.keeper, NIGHT + DAY), numbers=("0001",), warehouse_id=cast.south.pk)
    custody.set_condition(
        **cast.by(cast.keeper, NIGHT + DAY), numbers=("0001",), condition="ready", steps=("cleaned", "tested")
    )
    assert (stock(cast), stock(cast, cast.south)) == (1, 1)


def test_category_3_stops_the_load_and_nothing_else(cast: Cast) -> None:
    cast.units("0001", "0002")
    job = cast.job(category=3)
    custody.scan_out(**cast.by(cast.keeper), numbers=("1",), vehicle_id=cast.van.pk, job_id=job.pk)
    custody.place_units(**cast.by(cast.lead), job_id=job.pk, room_name="cellar", numbers=("1",))
    custody.take_up_units(**cast.by(cast.lead, NIGHT + DAY), job_id=job.pk, vehicle_id=cast.van.pk, numbers=("1",))
    custody.scan_in(**cast.by(cast.keeper, NIGHT + DAY), numbers=("1",), warehouse_id=cast.north.pk)
    assert cast.now("0001").condition == "held_back"
    late = cast.by(cast.keeper, NIGHT + DAY + HOUR)
    with pytest.raises(custody.NotDecontaminated) as stop:
        custody.scan_out(**late, numbers=("1", "2"), vehicle_id=cast.van.pk)
    assert stop.value.data["numbers"] == ["0001"]
    assert str(cast.now("0002").holder) == "North warehouse"
    with pytest.raises(custody.StepsMissing) as missing:
        custody.set_condition(**late, numbers=("1",), condition="ready", steps=("cleaned", "tested"))
    assert missing.value.data["missing"] == ["decontaminated", "filter_changed"]
    custody.set_condition(
        **cast.by(cast.keeper, NIGHT + DAY + HOUR),
        numbers=("1",),
        condition="ready",
        steps=("decontaminated", "filter_changed", "tested"),
    )
    custody.scan_out(**cast.by(cast.keeper, NIGHT + DAY + HOUR), numbers=("1",), vehicle_id=cast.van.pk)
    assert stock(cast, cast.van) == 1


def test_a_load_from_category_3_that_already_happened_is_recorded_and_raises_an_alarm(cast: Cast) -> None:
    cast.units("0001", condition="held_back", water_category=3)
    custody.scan_out(
        **cast.by(cast.keeper, NIGHT + HOUR),
        numbers=("1",),
        vehicle_id=cast.van.pk,
        happened_at=NIGHT,
        already_happened=True,
    )
    assert str(cast.now("0001").holder) == "Van 1"
    assert "0001" in Alarm.objects.get(kind="not_decontaminated").text


def test_the_floor_wins_and_the_difference_is_kept(cast: Cast) -> None:
    cast.units("0001", at=cast.south)
    scanned = custody.scan_out(
        **cast.by(cast.keeper), numbers=("1",), vehicle_id=cast.van.pk, warehouse_id=cast.north.pk
    )
    assert (scanned.discrepancies, scanned.scans[0].word) == (1, "loaded")
    assert "South warehouse" in Discrepancy.objects.get().said
    assert (stock(cast, cast.south), stock(cast, cast.van)) == (0, 1)


def test_a_unit_scanned_twice_is_said_to_be_there(cast: Cast) -> None:
    cast.units("0001")
    custody.scan_out(**cast.by(cast.keeper), numbers=("1",), vehicle_id=cast.van.pk)
    with pytest.raises(custody.AlreadyThere, match="0001 is already aboard Van 1"):
        custody.scan_out(**cast.by(cast.keeper), numbers=("1",), vehicle_id=cast.van.pk)
    assert Move.objects.filter(why="loaded").count() == 1


def test_unknown_numbers_change_nothing(cast: Cast) -> None:
    cast.units("0001")
    with pytest.raises(custody.UnitUnknown, match="7777"):
        custody.scan_out(**cast.by(cast.keeper), numbers=("1", "7777"), vehicle_id=cast.van.pk)
    with pytest.raises(Unusable, match="no unit number"):
        custody.scan_out(**cast.by(cast.keeper), numbers=("forklift",), vehicle_id=cast.van.pk)
    assert str(cast.now("0001").holder) == "North warehouse"


def test_a_list_shrinks_takes_equivalents_and_is_loaded(cast: Cast) -> None:
    other = cast.mover.__class__.objects.create(
        code="AM2", name="Tall mover", kind="air_mover", running_a=3, volume_cuft=3, weight_lb=30
    )
    cast.mover.equivalents.add(other)
    cast.units("0001")
    cast.units("0002", "0003", model=other)
    job = cast.job()
    promise = held(cast, job, 1)
    list_id = load_lists.write_load_list(
        **cast.by(cast.dispatcher),
        vehicle_id=cast.van.pk,
        warehouse_id=cast.north.pk,
        departs_at=NIGHT + HOUR,
        crew_name="Crew A",
        lines=((cast.mover.pk, job.pk, promise, 1, 1), (cast.dehumidifier.pk, None, None, 2, 1)),
    )
    cast.units("0009", model=cast.dehumidifier)

    def scan(number: str) -> custody.Scan:
        answer = custody.scan_out(
            **cast.by(cast.keeper), numbers=(number,), vehicle_id=cast.van.pk, load_list_id=list_id
        )
        return answer.scans[0]

    first = scan("2")
    assert (first.word, first.said) == ("equivalent", "loaded onto Van 1 in place of Air mover")
    assert Reservation.objects.get(pk=promise).state == "released"
    taken = Reservation.objects.get(job=job, state="confirmed")
    assert (taken.pool.model, taken.drawn, taken.quantity) == (other, 1, 1)
    assert scan("3").word == "not_on_list"
    assert LoadList.objects.get().state == "open"
    assert scan("9").word == "loaded"
    assert LoadList.objects.get().state == "loaded"
    custody.undo_scan(**cast.by(cast.keeper), move_id=first.move_id)
    assert LoadList.objects.get().state == "open"
    assert (str(cast.now("0002").holder), cast.now("0002").reservation) == ("North warehouse", None)
    assert Reservation.objects.get(pk=taken.pk).drawn == 0


def test_late_uploads_settle_by_when_they_happened(cast: Cast) -> None:
    """The pick-up arrives first, the placing hours later: the unit is aboard and dirty, its history is in order."""
    cast.units("0001")
    job = cast.job()
    custody.scan_out(**cast.by(cast.keeper), numbers=("1",), vehicle_id=cast.van.pk, job_id=job.pk)
    late = NIGHT + 9 * HOUR
    custody.take_up_units(
        **cast.by(cast.lead, late),
        job_id=job.pk,
        vehicle_id=cast.van.pk,
        numbers=("1",),
        happened_at=NIGHT + 8 * HOUR,
    )
    custody.place_units(
        **cast.by(cast.lead, late), job_id=job.pk, room_name="hall", numbers=("1",), happened_at=NIGHT + HOUR
    )
    now = cast.now("0001")
    assert (str(now.holder), now.condition, now.since) == ("Van 1", "not_yet_cleaned", NIGHT + 8 * HOUR)
    whys = Move.objects.order_by("happened_at", "id").values_list("why", flat=True)
    assert list(whys) == ["opening", "loaded", "placed", "taken_up"]


def test_undo_puts_a_taken_up_unit_back_on_its_promise(cast: Cast) -> None:
    cast.units("0001")
    job = cast.job()
    custody.scan_out(**cast.by(cast.keeper), numbers=("1",), vehicle_id=cast.van.pk, job_id=job.pk)
    custody.place_units(**cast.by(cast.lead), job_id=job.pk, room_name="hall", numbers=("1",))
    scan = custody.take_up_units(
        **cast.by(cast.lead, NIGHT + HOUR), job_id=job.pk, vehicle_id=cast.van.pk, numbers=("1",)
    ).scans[0]
    assert not Reservation.objects.filter(state="confirmed").exists()
    custody.undo_scan(**cast.by(cast.lead, NIGHT + HOUR), move_id=scan.move_id)
    now = cast.now("0001")
    assert (str(now.holder), now.condition, now.reservation.drawn, stock(cast)) == (job.number, "in_use", 1, 1)
    with pytest.raises(custody.MovedSince):
        custody.undo_scan(**cast.by(cast.lead, NIGHT + HOUR), move_id=scan.move_id)


def test_a_break_lowers_stock_below_use_and_says_so(cast: Cast) -> None:
    cast.units("0001", "0002")
    held(cast, cast.job(), 2)
    custody.set_condition(**cast.by(cast.keeper), numbers=("1",), condition="broken", in_repair=True)
    assert stock(cast) == 1
    assert "More Air mover is promised from North warehouse" in Alarm.objects.get().text


def test_straight_to_the_next_job_only_from_clean_water(cast: Cast) -> None:
    cast.units("0001", "0002", at=cast.van)
    clean, sewage, following = cast.job(), cast.job(category=3), cast.job()
    custody.place_units(**cast.by(cast.lead), job_id=clean.pk, room_name="hall", numbers=("1",))
    custody.place_units(**cast.by(cast.lead), job_id=sewage.pk, room_name="bath", numbers=("2",))
    with pytest.raises(custody.DirtyToNextJob):
        custody.move_units(**cast.by(cast.lead), numbers=("2",), to_job_id=following.pk, room_name="den")
    custody.move_units(**cast.by(cast.lead), numbers=("1",), to_job_id=following.pk, room_name="den")
    now = cast.now("0001")
    assert (now.holder.job, now.reservation.job, now.pool) == (following, following, cast.pool(at=cast.van))
    assert Move.objects.filter(why="job_to_job").count() == 1


def test_an_earlier_entry_is_corrected_after_later_ones_and_the_unit_stays_where_it_is(cast: Cast) -> None:
    cast.units("0001")
    job, right = cast.job(), cast.job()
    custody.scan_out(**cast.by(cast.keeper), numbers=("1",), vehicle_id=cast.van.pk, job_id=job.pk)
    placed = custody.place_units(
        **cast.by(cast.lead, NIGHT + HOUR), job_id=job.pk, room_name="hall", numbers=("1",)
    ).scans[0]
    custody.take_up_units(**cast.by(cast.lead, NIGHT + 9 * HOUR), job_id=job.pk, vehicle_id=cast.van.pk, numbers=("1",))
    before, later = cast.now("0001"), cast.by(cast.manager, NIGHT + DAY)
    said = {"move_id": placed.move_id, "job_id": right.pk, "room_name": "den", "condition": "in_use"}
    custody.correct_move(**later, reason="wrong house number", **said)
    now = cast.now("0001")
    assert (now.holder, now.condition, now.since) == (before.holder, before.condition, before.since)
    correction = Move.objects.get(why="correction")
    assert (correction.to_holder.job, correction.note, correction.actor) == (right, "wrong house number", cast.manager)
    assert (correction.corrects.to_holder.job, correction.corrects.actor) == (job, cast.lead)
    assert correction.happened_at == NIGHT + HOUR
    with pytest.raises(custody.MovedSince, match="corrected before"):
        custody.correct_move(**cast.by(cast.manager, NIGHT + DAY), reason="again", **said)
    assert audit() == ()


def test_no_correction_calls_a_unit_from_sewage_ready(cast: Cast) -> None:
    cast.units("0001", condition="held_back", water_category=3)
    (entry,) = Move.objects.all()
    with pytest.raises(custody.StepsMissing):
        custody.correct_move(
            **cast.by(cast.keeper), move_id=entry.pk, warehouse_id=cast.north.pk, condition="ready", reason="looks fine"
        )
    with pytest.raises(custody.NotDecontaminated):
        custody.scan_out(**cast.by(cast.keeper), numbers=("1",), vehicle_id=cast.van.pk)
