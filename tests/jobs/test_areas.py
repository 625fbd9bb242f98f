"""Nobody writes into another area, or looks into one: every id that a use case takes is known to the rule."""

import inspect
from collections.abc import Callable
from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.contrib.auth.models import User
from django.urls import get_resolver

from jobs import access, areas, intake
from jobs.areas import OtherArea
from jobs.models import Area, Job, Membership, UseCaseCall
from jobs.use_case import every
from tests.jobs.conftest import NIGHT

# Ids that lie in no area, or whose area stands beside them in the same call.
WITHOUT_AREA = {
    ("count_by_model", "model_id"),
    ("lend_units", "model_id"),
    ("rent_in", "model_id"),
    ("answer_call_out", "person_id"),
    ("hold", "sizing_id"),
    # A token is its user's, who may have several areas: the use case holds both against each other.
    ("revoke_token", "token_id"),
}


def test_every_id_that_a_use_case_takes_is_known_to_the_rule() -> None:
    assert get_resolver().url_patterns  # every room, and with it every use case, is loaded
    unknown = {
        (verb, name)
        for verb, function in every.items()
        for name in inspect.signature(function).parameters
        if name.endswith("_id") and areas.lookup_for(name, verb=verb) is None
    }

    assert {(verb, name) for verb, name in unknown if access.VERBS[verb]} - WITHOUT_AREA == set()


@pytest.fixture
def elsewhere(db: None) -> Area:
    return Area.objects.create(code="up-river", name="Up River")


def test_a_write_into_another_area_is_refused_and_recorded(
    dispatcher: User, elsewhere: Area, area: Area, person: Callable[[str], User]
) -> None:
    common: dict[str, Any] = {"actor": dispatcher, "now": NIGHT}
    taken = intake.take_call(**common, key=uuid4(), area_id=area.pk)

    with pytest.raises(OtherArea, match="Up River"):
        intake.take_call(**common, key=uuid4(), area_id=elsewhere.pk)
    assert UseCaseCall.objects.get(outcome="refused").refusal["code"] == "other_area"  # type: ignore[index]

    Membership.objects.create(user=dispatcher, area=elsewhere, role=access.WAREHOUSE)
    again: dict[str, Any] = {"actor": User.objects.get(pk=dispatcher.pk), "now": NIGHT}
    with pytest.raises(OtherArea):
        # A role there, but not one that takes calls.
        intake.take_call(**again, key=uuid4(), area_id=elsewhere.pk)
    Membership.objects.create(user=dispatcher, area=None, role=access.DISPATCHER)
    again = {"actor": User.objects.get(pk=dispatcher.pk), "now": NIGHT + timedelta(minutes=1)}
    intake.take_call(**again, key=uuid4(), area_id=elsewhere.pk)
    intake.answer_call(**again, key=uuid4(), call_id=taken.call_id, field="town", value="Camas", seen=0)


@pytest.mark.parametrize(
    "address", ["/desk/calls/{call}", "/api/v1/calls/{call}", "/desk/jobs/{job}", "/api/v1/jobs/{job_id}"]
)
def test_nobody_looks_into_another_area(
    client: Any, dispatcher: User, elsewhere: Area, person: Callable[[str], User], address: str
) -> None:
    other = User.objects.create_user("other")
    Membership.objects.create(user=other, area=elsewhere, role=access.DISPATCHER)
    job = _job(elsewhere)
    call = intake.take_call(actor=other, now=NIGHT, key=uuid4(), area_id=elsewhere.pk).call_id
    asked = address.format(call=call, job=job.number, job_id=job.pk)

    client.force_login(dispatcher)
    assert client.get(asked).status_code == 403
    client.force_login(other)
    assert client.get(asked).status_code == 200


def _job(area: Area) -> Job:
    return Job.objects.create(
        area=area,
        number="J-9001",
        opened_at=NIGHT,
        street="1 Ferry Road",
        town="Stevenson",
        state="WA",
        time_zone=area.time_zone,
        lat=45.69,
        lon=-121.88,
    )
