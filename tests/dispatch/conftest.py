"""The small night, for every test of dispatch."""

import pytest

from tests.dispatch import night as nights


@pytest.fixture
def night(db: None) -> nights.Night:
    return nights.night()
