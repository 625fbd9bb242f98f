"""A busy night costs the board and the offers no more queries than a quiet one; four at once lose no field."""

import os
import subprocess
import sys
import time
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from jobs.models import Call
from tests.architecture.order import ROOT
from tests.dispatch import busy_night
from tests.dispatch.night import NIGHT, Night


@time_machine.travel(NIGHT, tick=False)
def test_board_and_offers_take_a_fixed_number_of_queries(night: Night) -> None:
    desk = Client()
    desk.force_login(night.dispatcher, backend="django.contrib.auth.backends.ModelBackend")
    paths = ("/desk", f"/desk/calls/{night.call()}/offers")

    def asked() -> list[int]:
        counts = []
        for path in paths:
            with CaptureQueriesContext(connection) as queries:
                assert desk.get(path).status_code == 200
            counts.append(len(queries))
        return counts

    asked()
    busy_night.fill(night, jobs=4, calls=3, crews=2, at_a_stop_each=2)
    few = asked()
    busy_night.fill(night, jobs=8, calls=8, crews=3, at_a_stop_each=2)
    assert asked() == few
    assert max(few) <= MOST_QUERIES


MOST_QUERIES = 60
DISPATCHER = """
import django
django.setup()
import sys
from uuid import uuid4
from django.contrib.auth.models import User
from django.utils import timezone
from jobs import intake
from jobs.models import Area
user = User.objects.get(username=sys.argv[1])
area, calls = Area.objects.get(), int(sys.argv[2])
from tests.dispatch.night import CALL

TYPED = ("street", "caller_name", "care")
for number in range(calls):
    def by():
        return {"key": uuid4(), "actor": user, "now": timezone.now()}

    name = f"{user.username} {number}"
    call_id = intake.take_call(**by(), area_id=area.pk, callback_number=f"360-555-{1000 + number}").call_id
    for field, value in {**CALL, "caller_name": name, "care": f"said to {name}"}.items():
        seen = 0
        for typed in (value[:4], value) if field in TYPED else (value,):
            seen = intake.answer_call(**by(), call_id=call_id, field=field, value=typed, seen=seen).version
"""


@pytest.mark.long
@pytest.mark.django_db(transaction=True)
def test_four_dispatchers_enter_sixty_calls_at_once_without_a_lost_field(child_environment: dict[str, str]) -> None:
    """An hour's calls, each field saved in two steps as it is typed, by four processes as fast as they can."""
    from django.contrib.auth.models import User

    from jobs.models import Membership
    from tests.dispatch import night as nights

    night = nights.night()
    names = [f"desk{number}" for number in range(4)]
    for name in names:
        user = User.objects.create(username=name)
        Membership.objects.create(user=user, area=night.cast.area, role="dispatcher")
    environment = {**os.environ, **child_environment, "DJANGO_SETTINGS_MODULE": "config.settings"}
    begun = time.monotonic()
    running = [
        subprocess.Popen([sys.executable, "-c", DISPATCHER, name, "15"], cwd=ROOT, env=environment) for name in names
    ]
    assert [process.wait(timeout=600) for process in running] == [0] * 4
    assert time.monotonic() - begun < 3600
    alone = kept(Call.objects.get(pk=night.call(caller_name="x", care="y")))
    calls = list(Call.objects.exclude(taken_by=night.dispatcher).select_related("taken_by"))
    assert len(calls) == 60
    for call in calls:
        mine = kept(call)
        name = mine["caller_name"]
        assert name.startswith(call.taken_by.username)
        assert mine == {
            **alone,
            "caller_name": name,
            "care": f"said to {name}",
            "callback_number": mine["callback_number"],
        }
        assert call.rooms
    names = {(call.taken_by_id, kept(call)["caller_name"]) for call in calls}
    assert len(names) == 60


def kept(call: Call) -> dict[str, Any]:
    """Every field of a call as it is kept, rooms apart."""
    return {**call.answers, **call.private_answers}
