"""The small cast of equipment, and the keeper of its warehouses signed in."""

import pytest
from django.test import Client

from tests.equipment import cast as casting


@pytest.fixture
def cast(db: None) -> casting.Cast:
    return casting.make()


@pytest.fixture
def keeper(cast: casting.Cast, client: Client) -> Client:
    client.force_login(cast.keeper)
    return client
