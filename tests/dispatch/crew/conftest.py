"""A crew that was sent to a first visit, at the hour of the worked night."""

from collections.abc import Iterator
from typing import Any

import pytest
import time_machine

from dispatch.emergencies import Sent, send
from tests.dispatch.night import NIGHT, Night


@pytest.fixture
def clock() -> Iterator[Any]:
    with time_machine.travel(NIGHT, tick=False) as traveller:
        yield traveller


@pytest.fixture
def sent(night: Night) -> Sent:
    return send(**night.by(night.dispatcher), call_id=night.call(), crew_id=night.empty.pk)
