"""The line of an open job that the desk reads to its caller, and joining from the call's page."""

from datetime import timedelta
from uuid import uuid4

from django.test import Client

from dispatch.desk.known_jobs import known_jobs
from dispatch.emergencies import send
from jobs import selectors
from jobs.models import Call, Job, Visit
from tests.dispatch.night import NIGHT, Night


def test_the_line_says_day_equipment_circuits_and_the_last_visit(night: Night) -> None:
    sent = send(**night.by(night.dispatcher), call_id=night.call(), crew_id=night.ready.pk)
    Job.objects.filter(pk=sent.job_id).update(circuits=[{"breaker_a": 20, "reserved_a": 0}] * 2)
    (line,) = selectors.jobs_of_phone("360-555-0199")
    assert known_jobs((line,), now=NIGHT)[0].said == "day 1, two circuits, nobody was there yet"
    Visit.objects.filter(pk=sent.visit_id).update(arrived_at=NIGHT + timedelta(hours=1))
    said = known_jobs((line,), now=NIGHT + timedelta(days=1))[0].said
    assert said.startswith("day 2, two circuits, last visit Thu Jan 15, ")


def test_the_known_job_is_joined_and_split_on_the_calls_page(night: Night) -> None:
    desk = Client()
    desk.force_login(night.dispatcher)
    sent = send(**night.by(night.dispatcher), call_id=night.call(), crew_id=night.ready.pk)
    second = night.call()
    Call.objects.filter(pk=second).update(private_answers={"callback_number": "360-555-0142"})
    page = desk.get(f"/desk/calls/{second}").content.decode()
    assert f"join {sent.job_number}" in page
    desk.post(f"/desk/calls/{second}/end", {"key": str(uuid4()), "job_id": sent.job_id})
    assert Call.objects.get(pk=second).job_id == sent.job_id
    assert "open this call again" in desk.get(f"/desk/calls/{second}").content.decode()
    desk.post(f"/desk/calls/{second}/split", {"key": str(uuid4())})
    assert Call.objects.get(pk=second).ended_at is None
