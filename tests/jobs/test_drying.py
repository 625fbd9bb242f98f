"""The drying log: doubtful values are asked about, corrections keep the old value, dry means by reading alone."""

from collections.abc import Callable
from datetime import timedelta
from uuid import uuid4

import pytest
from django.contrib.auth.models import User

from jobs import drying, leads_word, selectors
from jobs.drying_log import drying_log
from jobs.drying_values import AirValue, MaterialValue
from jobs.models import Job, JournalEntry, MaterialReading, Visit
from jobs.refusals import NotThere, Unusable
from tests.jobs.conftest import NIGHT, later

Record = Callable[..., drying.ReadingsRecorded]


@pytest.fixture
def points(job: Job, lead: User) -> tuple[int, int]:
    for number, (material, standard, goal) in enumerate([("drywall", 12, 14), ("wood_subfloor", 11, 15)], start=1):
        drying.add_point(
            key=uuid4(), actor=lead, now=NIGHT, job_id=job.pk, room_name="kitchen", material=material,
            meter="pin meter 1", scale="relative_0_100" if number == 1 else "percent_mc",
            dry_standard=standard, goal=goal,
        )  # fmt: skip
    return 1, 2


@pytest.fixture
def record(job: Job, lead: User, points: tuple[int, int]) -> Record:
    def write(values: dict[int, float], air: tuple[AirValue, ...] = (), day: int = 0, **more: object):
        return drying.record_readings(
            key=uuid4(), actor=lead, now=NIGHT + timedelta(days=day), job_id=job.pk, visit_id=None, air=air,
            materials=tuple(MaterialValue(point, value) for point, value in values.items()), **more,
        )  # fmt: skip

    return write


def test_yesterday_stands_beside_today(job: Job, record: Record) -> None:
    record({1: 60, 2: 24})
    record({1: 40, 2: 20}, day=1)

    first, second = drying_log(job.pk).points
    assert (first.before.value, first.last.value, first.fell_by_a_day) == (60, 40, 20)  # type: ignore[union-attr]
    assert (second.fell_by_a_day, second.at_goal) == (4, False)


def test_grains_per_pound_come_from_both_figures(job: Job, record: Record) -> None:
    """75 °F and 50 % at sea level: about 65 grains (standard psychrometric chart)."""
    record({}, air=(AirValue("inside", 75, 50), AirValue("outside", 40, 90)))

    inside, outside = drying_log(job.pk).air
    assert inside.gpp == pytest.approx(65, abs=1)
    assert outside.gpp == pytest.approx(33, abs=1)


def test_dry_means_every_point_and_only_by_reading(job: Job, visit: Visit, record: Record) -> None:
    assert not record({1: 13}).at_goal
    assert record({2: 15}).at_goal

    job.refresh_from_db()
    visit.refresh_from_db()
    assert job.stage == "at_goal"
    assert visit.kind == "pick_up"
    assert JournalEntry.objects.filter(kind="reading_at_goal", job=job).count() == 1


def test_a_point_that_gets_wet_again_takes_the_job_back(job: Job, record: Record) -> None:
    record({1: 13, 2: 15})
    record({1: 30}, day=1)

    job.refresh_from_db()
    assert job.stage == "drying"


@pytest.mark.parametrize(
    ("air", "materials"),
    [
        ((AirValue("inside", 7.5, 50),), {}),
        ((AirValue("inside", 750 / 5, 50),), {}),
        ((AirValue("inside", 75, 5),), {}),
        ((), {1: 600}),
        ((), {1: 2}),
        ((), {2: 98}),
    ],
)
def test_wrong_by_ten_is_asked_about_and_kept_when_meant(
    job: Job, record: Record, air: tuple[AirValue, ...], materials: dict[int, float]
) -> None:
    record({1: 60, 2: 24})
    with pytest.raises(drying.ReadingsDoubtful) as asked:
        record(materials, air)
    assert asked.value.data["doubts"]
    before = MaterialReading.objects.count()

    record(materials, air, confirmed=True)

    assert MaterialReading.objects.count() == before + len(materials)


@pytest.mark.parametrize("air", [AirValue("inside", 75, 0), AirValue("inside", 75, 101), AirValue("inside", 900, 50)])
def test_what_no_instrument_shows_is_refused_even_when_confirmed(record: Record, air: AirValue) -> None:
    with pytest.raises(Unusable):
        record({}, (air,), confirmed=True)


def test_a_point_that_is_not_marked_is_refused(record: Record) -> None:
    with pytest.raises(drying.PointNotThere):
        record({7: 20})


def test_a_correction_keeps_the_old_value_and_its_author(job: Job, lead: User, record: Record, manager: User) -> None:
    wrong = record({1: 16, 2: 15}).material_ids[0]
    with pytest.raises(drying.CorrectionNeedsReason):
        drying.correct_reading(
            key=uuid4(), actor=manager, now=later(60), kind="material", reading_id=wrong, value=13, reason=""
        )
    corrected = drying.correct_reading(
        key=uuid4(),
        actor=manager,
        now=later(60),
        kind="material",
        reading_id=wrong,
        value=13,
        reason="read upside down",
    )

    old = MaterialReading.objects.get(pk=wrong)
    assert (old.value, old.taken_by) == (16, lead)
    point = drying_log(job.pk).points[0]
    assert (point.last.value, point.last.before_correction) == (13, 16)  # type: ignore[union-attr]
    assert (corrected.at_goal, corrected.stage) == (True, "at_goal")
    with pytest.raises(drying.ReadingCorrectedBefore):
        drying.correct_reading(
            key=uuid4(), actor=manager, now=later(61), kind="material", reading_id=wrong, value=12, reason="again"
        )


def test_an_air_reading_is_corrected_the_same_way(job: Job, lead: User, record: Record) -> None:
    wrong = record({}, (AirValue("inside", 75, 50),)).air_ids[0]
    drying.correct_reading(
        key=uuid4(), actor=lead, now=later(60), kind="air", reading_id=wrong, rh_pct=40, reason="wrong line"
    )

    (line,) = drying_log(job.pk).air
    assert (line.dry_bulb_f, line.rh_pct) == (75, 40)


def test_points_are_numbered_once(job: Job, lead: User, points: tuple[int, int]) -> None:
    with pytest.raises(drying.PointNumberTaken):
        drying.add_point(
            key=uuid4(), actor=lead, now=NIGHT, job_id=job.pk, number=2, room_name="hall", material="drywall",
            meter="pin meter 1", scale="relative_0_100", dry_standard=12, goal=14,
        )  # fmt: skip


def test_the_leads_word_stands_beside_the_suggestion(job: Job, lead: User) -> None:
    for word, reason in ((2, "dishwasher water"), (3, "it ran through the drain")):
        leads_word.set_leads_word(
            key=uuid4(), actor=lead, now=NIGHT, job_id=job.pk, topic="category", word=word, suggestion=1, reason=reason
        )

    assert selectors.job_facts(job.pk).line.category == 3
    assert [(row.suggestion, row.word) for row in job.leads_words.all()] == [(1, 2), (1, 3)]


@pytest.mark.parametrize(("topic", "word"), [("category", 4), ("category", True), ("class:whole loss", 5), ("", 1)])
def test_a_word_that_cannot_be_is_refused(job: Job, lead: User, topic: str, word: object) -> None:
    with pytest.raises(Unusable):
        leads_word.set_leads_word(
            key=uuid4(), actor=lead, now=NIGHT, job_id=job.pk, topic=topic, word=word, reason="because"
        )


def test_the_class_is_of_a_chamber(job: Job, lead: User) -> None:
    leads_word.set_leads_word(
        key=uuid4(), actor=lead, now=NIGHT, job_id=job.pk, topic="class:whole loss", word=4, reason="plaster"
    )

    assert job.chambers.get().class_set == 4
    with pytest.raises(NotThere):
        leads_word.set_leads_word(
            key=uuid4(), actor=lead, now=NIGHT, job_id=job.pk, topic="class:attic", word=4, reason="plaster"
        )
