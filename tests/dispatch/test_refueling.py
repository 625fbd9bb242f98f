"""A generator's refueling: due by itself, planned for the whole day, over when it is taken up; pick-up at once."""

from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest
import time_machine
from django.db import transaction
from django.test import Client

from dispatch import followups
from dispatch.models import Stop
from equipment import custody
from equipment.models import EquipmentModel, Vehicle
from jobs import visits
from jobs.models import Job, Visit
from jobs.stops import arrive_at_stop, cannot_work, finish_stop
from tests.dispatch.night import NIGHT, TONIGHT, Night

DAY = timedelta(days=1)


@pytest.fixture
def job(night: Night) -> Job:
    made = night.cast.job(stage=Job.Stage.DRYING)
    generator = EquipmentModel.objects.create(
        code="GEN", name="Generator", kind="generator", running_a=0, volume_cuft=14, weight_lb=205
    )
    night.cast.units("7001", model=generator, at=night.cast.van)
    night.cast.units("7002", at=night.cast.van)
    custody.place_units(
        **night.by(night.cast.lead), job_id=made.pk, room_name="yard", numbers=("7001", "7002"),
        vehicle_id=night.cast.van.pk,
    )  # fmt: skip
    return made


def refuels(job: Job, state: str = "due") -> list[datetime]:
    found = job.visits.filter(kind=Visit.Kind.REFUEL, state=state).order_by("due_at")
    return [at for at in found.values_list("due_at", flat=True) if at is not None]


def test_a_generator_is_refueled_until_it_is_taken_up(night: Night, job: Job) -> None:
    lead = night.cast.lead
    assert refuels(job) == [NIGHT + timedelta(hours=8)]
    # A tank that lasts the night does not hide that the job has no monitoring visit.
    with transaction.atomic():
        followups.ensure_visits(key=uuid4(), actor=night.dispatcher, now=NIGHT, area=job.area, day=TONIGHT + DAY)
    # Midnight in Vancouver is 08:00 UTC: every eight hours of that day, night included.
    end = datetime(2026, 1, 17, 8, tzinfo=UTC)
    assert refuels(job) == [NIGHT + timedelta(hours=h) for h in (8, 16, 24)]
    assert all(at < end for at in refuels(job))
    assert job.visits.get(kind=Visit.Kind.MONITORING).due_on == TONIGHT + DAY
    with transaction.atomic():
        followups.ensure_visits(key=uuid4(), actor=night.dispatcher, now=NIGHT, area=job.area, day=TONIGHT + DAY)
    assert len(refuels(job)) == 3

    job.visits.filter(kind=Visit.Kind.REFUEL, due_at__gt=NIGHT + timedelta(hours=9)).update(state="canceled")
    visit = job.visits.get(kind=Visit.Kind.REFUEL, state="due")
    filled = NIGHT + timedelta(hours=7)
    arrive_at_stop(**night.by(lead, filled), visit_id=visit.pk)
    finish_stop(**night.by(lead, filled), visit_id=visit.pk)
    assert refuels(job) == [filled + timedelta(hours=8)]
    custody.take_up_units(**night.by(lead, filled), job_id=job.pk, vehicle_id=night.cast.van.pk, numbers=("7001",))
    assert refuels(job) == []
    assert len(refuels(job, "canceled")) == 3


def test_what_is_dry_and_taken_up_at_once_needs_no_further_trip(night: Night, job: Job) -> None:
    lead = night.cast.lead
    visit, tomorrow = night.visit(job), night.visit(job, kind=Visit.Kind.PICK_UP, due_on=TONIGHT + DAY)
    Job.objects.filter(pk=job.pk).update(stage=Job.Stage.AT_GOAL)
    arrive_at_stop(**night.by(lead), visit_id=visit.pk)
    taken = {"job_id": job.pk, "vehicle_id": night.cast.van.pk}
    custody.take_up_units(**night.by(lead), **taken, numbers=("7001",))
    job.refresh_from_db()
    assert job.stage == Job.Stage.AT_GOAL
    custody.take_up_units(**night.by(lead), **taken, numbers=("7002",))
    finish_stop(**night.by(lead), visit_id=visit.pk)
    job.refresh_from_db()
    tomorrow.refresh_from_db()
    assert (job.stage, tomorrow.state) == (Job.Stage.PICKED_UP, Visit.State.CANCELED)
    assert not job.visits.filter(state=Visit.State.DUE).exists()


def test_a_visit_missed_after_one_that_could_not_be_done_is_for_a_manager(night: Night, job: Job) -> None:
    visit = night.visit(job)
    state = cannot_work(**night.by(night.cast.lead), visit_id=visit.pk, reason="no access", told="owner")
    assert state.next_visit_id is not None
    later = {"reason": "snow", "told": "owner", "new_time": NIGHT + 2 * DAY}
    with pytest.raises(visits.MissedTwice):
        visits.miss_visit(**night.by(night.dispatcher), visit_id=state.next_visit_id, **later)
    visits.miss_visit(**night.by(night.cast.manager), visit_id=state.next_visit_id, **later)


def test_the_desk_records_a_miss_on_the_jobs_page(night: Night, job: Job, client: Client) -> None:
    client.force_login(night.dispatcher, backend="django.contrib.auth.backends.ModelBackend")
    visit, address = night.visit(job), f"/desk/jobs/{job.number}"
    typed = {
        "visit": str(visit.pk),
        "miss_reason": "road closed",
        "miss_told": " ",
        "miss_new_time": "2026-01-17T09:00",
    }
    with time_machine.travel(NIGHT, tick=False):
        refused = client.post(f"{address}/miss-visit", {"key": str(uuid4()), **typed})
        assert refused.status_code == 422
        assert 'value="road closed"' in refused.content.decode()
        assert (
            client.post(f"{address}/miss-visit", {"key": str(uuid4()), **typed, "miss_told": "Olga"}).status_code == 302
        )
        assert "road closed; told: Olga" in client.get(address).content.decode()
    visit.refresh_from_db()
    following = visit.followed_by.get()
    assert (visit.state, following.due_at) == ("missed", datetime(2026, 1, 17, 17, tzinfo=UTC))


def test_a_dry_stop_offers_to_take_all_up_at_once(night: Night, job: Job, client: Client) -> None:
    Job.objects.filter(pk=job.pk).update(stage=Job.Stage.AT_GOAL)
    visit = night.visit(job, due_on=TONIGHT)
    Stop.objects.create(crew=night.ready, visit=visit, position=1, arrive_at=NIGHT, start_at=NIGHT, leave_at=NIGHT)
    client.force_login(night.ready.lead.user, backend="django.contrib.auth.backends.ModelBackend")
    with time_machine.travel(NIGHT, tick=False):
        client.post(f"/crew/stops/{visit.pk}/arrive", {"key": str(uuid4())})
        # The van takes no generator.
        assert "has no room for all 2 units" in client.get(f"/crew/stops/{visit.pk}").content.decode()
        Vehicle.objects.update(capacity={"air_mover": 16, "lgr": 3, "generator": 1, "volume_cuft": 180})
        assert "All 2 are back on the vehicle" in client.get(f"/crew/stops/{visit.pk}").content.decode()
