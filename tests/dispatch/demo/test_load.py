"""The demo company is loaded through the use cases: the ledgers agree, the stages are what the files say, once."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from dispatch.demo.load import Loaded, load, set_password
from dispatch.models import Person, WorkSpell
from equipment.models import Alarm, Discrepancy, Holder, Move, Reservation, UnitNow
from jobs.models import AirReading, Call, Job, JournalEntry, MaterialReading, UseCaseCall, Visit
from tests.demo_company.tables import rows
from tests.dispatch.demo.conftest import chosen_jobs

pytestmark = pytest.mark.django_db
# Half past two in the afternoon on the lower Columbia.
NOW = datetime(2027, 1, 15, 22, 30, tzinfo=UTC)
STAGES = {
    "drying": "drying",
    "first_visit_done": "drying",
    "sewage": "drying",
    "missed": "drying",
    "at_goal": "at_goal",
    "waiting_authorization": "drying",
    "finished": "closed",
    "left": "picked_up",
}


def by_street() -> dict[str, Job]:
    streets = {job["street"]: job["job"] for job in rows("jobs")}
    return {streets[job.street]: job for job in Job.objects.all()}


def test_jobs_are_where_the_files_say(part: Path) -> None:
    """Loading takes seconds, so what one loading shows stands in one test."""
    loaded = load(part, now=NOW)

    stages_are_those_of_the_files(loaded)
    units_stand_where_the_files_place_them()
    past_visits_are_done_and_later_ones_due()
    number = next(p["unit"] for p in rows("placements") if p["removed_at"] and p["condition_after"] == "ready")
    moves = Move.objects.filter(unit__number=number).order_by("happened_at")
    assert [move.why for move in moves] == ["opening", "loaded", "placed", "taken_up", "unloaded", "condition"]


def stages_are_those_of_the_files(loaded: Loaded) -> None:
    found = by_street()
    fates = {fate: number for fate, number in chosen_jobs().items() if fate != "sent"}
    assert {fate: found[number].stage for fate, number in fates.items()} == STAGES
    assert found[fates["waiting_authorization"]].authorized_at is None
    assert loaded.jobs == len(set(fates.values()))
    # The crew that is only now being sent is for the desk to send.
    assert [call.answers["street"] for call in Call.objects.filter(pk__in=loaded.open_calls)] == [
        next(job["street"] for job in rows("jobs") if job["job"] == chosen_jobs()["sent"])
    ]


def units_stand_where_the_files_place_them() -> None:
    found = by_street()
    there: dict[str, set[str]] = {number: set() for number in found}
    for row in UnitNow.objects.filter(holder__kind=Holder.Kind.JOB).select_related("unit", "holder"):
        number = next(number for number, job in found.items() if job.pk == row.holder.job_id)
        there[number].add(row.unit.number)
    wanted = {
        number: {p["unit"] for p in rows("placements") if p["job"] == number and not p["removed_at"]}
        for number in found
    }
    assert there == wanted
    # Everything was loaded where it stood and placed from the vehicle that brought it.
    assert Discrepancy.objects.count() == 0
    assert Alarm.objects.count() == 0
    drawn = sum(Reservation.objects.filter(state="confirmed").values_list("drawn", flat=True))
    assert drawn == sum(map(len, wanted.values()))


def past_visits_are_done_and_later_ones_due() -> None:
    assert not Visit.objects.filter(state=Visit.State.DONE, finished_at__gt=NOW).exists()
    assert not Visit.objects.filter(state=Visit.State.DONE, finished_at=None).exists()
    open_jobs = Job.objects.filter(stage__in=["drying", "at_goal"])
    assert all(job.visits.filter(state=Visit.State.DUE).exists() for job in open_jobs)
    assert Visit.objects.get(state=Visit.State.MISSED).followed_by.count() == 1
    assert not AirReading.objects.filter(taken_at__gt=NOW).exists()
    assert MaterialReading.objects.count() > 50


def test_loading_again_changes_nothing(part: Path) -> None:
    load(part, now=NOW)
    counted = (Job, Call, Visit, Move, Reservation, JournalEntry, MaterialReading, UseCaseCall, WorkSpell)
    before = [model._default_manager.count() for model in counted]

    again = load(part, now=NOW + timedelta(days=1, hours=3))

    assert not again.new
    assert str(again.clock.day_zero) == "2027-01-15"
    assert [model._default_manager.count() for model in counted] == before


def test_a_run_that_was_cut_short_is_finished_on_the_same_days(part: Path) -> None:
    class Killed(Exception):
        pass

    def cut_short(items, what):  # type: ignore[no-untyped-def]
        for number, item in enumerate(items):
            if number == 3:
                raise Killed
            yield item

    with pytest.raises(Killed):
        load(part, now=NOW, progress=cut_short)
    half = Call.objects.count()

    loaded = load(part, now=NOW + timedelta(minutes=5))

    assert half == 3
    assert Call.objects.count() == len(set(chosen_jobs().values()))
    assert str(loaded.clock.day_zero) == "2027-01-15"


@pytest.mark.parametrize(("hour", "day_zero"), [(13, "2027-01-15"), (15, "2027-01-16")])
def test_a_night_belongs_to_the_day_on_which_it_began(no_jobs: Path, hour: int, day_zero: str) -> None:
    """Five and seven in the morning, local time."""
    loaded = load(no_jobs, now=datetime(2027, 1, 16, hour, tzinfo=UTC))

    assert str(loaded.clock.day_zero) == day_zero


def test_hours_worked_are_known_so_that_rest_can_be_counted(no_jobs: Path) -> None:
    load(no_jobs, now=NOW)

    running = WorkSpell.objects.filter(ends_at=None)
    assert running.exists()
    assert all(NOW - timedelta(hours=12) <= spell.starts_at <= NOW for spell in running)
    assert not WorkSpell.objects.filter(ends_at__gt=NOW).exists()


def test_the_demo_sign_ins_can_sign_in_and_nobody_else(no_jobs: Path) -> None:
    loaded = load(no_jobs, now=NOW)

    set_password(loaded.sign_ins.values(), "slough-and-levee")

    assert set(loaded.sign_ins) == {"manager", "dispatcher", "warehouse", "crew_lead"}
    able = {person.user for person in Person.objects.all() if person.user.has_usable_password()}
    assert {user.username for user in able} == set(loaded.sign_ins.values())
    assert all(user.check_password("slough-and-levee") for user in able)
