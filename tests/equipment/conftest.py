"""The small cast, for every test of equipment."""

import pytest

from tests.equipment import cast as casting


@pytest.fixture
def cast(db: None) -> casting.Cast:
    return casting.make()
