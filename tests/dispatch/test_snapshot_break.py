"""The break that a crew is owed, as the day goes on."""

from datetime import timedelta

import pytest

from dispatch import crew_facts, snapshot
from tests.dispatch.night import TONIGHT, Night


@pytest.mark.parametrize(("hours_in", "owed"), [(0, True), (6, True), (6.1, False), (9, False)])
def test_a_break_whose_hours_are_over_bars_nobody(night: Night, hours_in: float, owed: bool) -> None:
    """Its hours are the third to the sixth of the shift; afterwards it was had and is not planned again."""
    now = night.ready.starts_at + timedelta(hours=hours_in)
    rows = crew_facts.rows_of([night.ready], now=now)

    shot = snapshot.build(area=night.ready.area, day=TONIGHT, now=now, rows=rows, visits=[])

    (crew,) = shot.problem["crews"]
    assert (crew["break"] is not None) == owed
