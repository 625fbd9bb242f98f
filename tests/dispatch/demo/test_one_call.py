"""One call from a file: what is no call is refused, what is one goes all the way to the crew's route."""

import json
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from dispatch.demo import report
from dispatch.demo.clock import DemoClock
from dispatch.demo.one_call import CallFileUnusable, NobodyCanGo, read_call, take
from dispatch.models import Stop
from equipment.models import Reservation
from jobs.models import Job
from jobs.opening import NotEnoughYet
from jobs.refusals import Unusable
from tests.demo_company.tables import FOLDER
from tests.dispatch import night as nights
from tests.dispatch.night import TONIGHT, Night
from tests.equipment.cast import NIGHT


@pytest.fixture
def told() -> dict[str, Any]:
    return {
        "format": 1,
        "answers": {key: value for key, value in nights.CALL.items() if not key.startswith("room:")}
        | {"callback_number": "360-555-0199"},
        "rooms": [{"name": "kitchen", "length_ft": 12, "width_ft": 14, "wet_floor_sqft": 60}],
    }


@pytest.fixture
def night(db: None) -> Night:
    return nights.night()


def taken(told: dict[str, Any], night: Night) -> Any:
    clock = DemoClock(TONIGHT, night.cast.area.zone, NIGHT)
    return take(told, area_id=night.cast.area.pk, desk=night.dispatcher, clock=clock)


def test_the_demo_call_can_be_read() -> None:
    assert read_call(FOLDER / "call.json")["answers"]["category"] == 1


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("{", "is no JSON"),
        ("[]", "must be an object"),
        ('{"format": 1, "answers": {}}', "must be an object with the keys"),
        ('{"format": 1, "answers": {}, "rooms": [], "crew": "TN01"}', "must be an object with the keys"),
        ('{"format": 2, "answers": {}, "rooms": []}', "reads format 1"),
        ('{"format": 1, "answers": [], "rooms": []}', "answers is an object"),
    ],
)
def test_what_is_no_call_is_refused(tmp_path: Path, text: str, message: str) -> None:
    path = tmp_path / "call.json"
    path.write_text(text, encoding="utf-8")

    with pytest.raises(CallFileUnusable, match=message):
        read_call(path)


def test_a_file_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(CallFileUnusable, match="cannot be read"):
        read_call(tmp_path / "none.json")


def test_a_call_is_sized_ranked_sent_and_routed(told: dict[str, Any], night: Night) -> None:
    done = taken(told, night)

    job = Job.objects.get()
    assert done.sent.job_number == job.number
    assert done.sent.crew_id == done.offers.offers[0].crew_id
    held = sum(Reservation.objects.filter(job=job).values_list("quantity", flat=True))
    assert held == sum(row["count"] for row in done.sent.held) > 0
    assert [line.job_number for line in done.route] == [job.number]
    assert Stop.objects.get().arrive_at == done.sent.arrive_at
    text = "\n".join(report.lines(done))
    for heading in ("CALL", "ESTIMATE", "CREWS", "SENT", "ROUTE"):
        assert heading in text
    # Every crew is named: to go, or with the reason why not.
    assert all(crew.name in text for crew in (night.ready, night.empty, night.lapsed))


def test_a_bigger_loss_holds_more(told: dict[str, Any], night: Night) -> None:
    small = taken(told, night)
    bigger = json.loads(json.dumps(told))
    bigger["rooms"][0]["wet_floor_sqft"] = 168

    big = taken(bigger, night)

    assert big.offers.needed["air_mover"] > small.offers.needed["air_mover"]


def test_a_call_that_says_too_little_names_what_is_missing(told: dict[str, Any], night: Night) -> None:
    del told["answers"]["power"]

    with pytest.raises(NotEnoughYet, match="power"):
        taken(told, night)

    assert Job.objects.count() == 0


def test_an_answer_that_cannot_be_meant_is_refused(told: dict[str, Any], night: Night) -> None:
    told["rooms"][0]["length_ft"] = -3

    with pytest.raises(Unusable):
        taken(told, night)


def test_a_night_without_crews_says_so(told: dict[str, Any], night: Night) -> None:
    told["at"] = "+5 12:00"

    with pytest.raises(NobodyCanGo):
        taken(told, night)


def test_a_call_never_rings_in_the_past(told: dict[str, Any], night: Night) -> None:
    told["at"] = "-3 10:00"

    assert taken(told, night).at == NIGHT
    assert taken({**told, "at": "now+5m"}, night).at == NIGHT + timedelta(minutes=5)
