"""A count by model from the phone of whoever loads at night, over HTTP."""

from typing import Any
from uuid import uuid4

import pytest
from rest_framework.test import APIClient

from equipment.models import FastCount
from tests.equipment.cast import Cast

pytestmark = pytest.mark.django_db
ADDRESS = "/api/v1/counts/by-model"


def send(who: Any, address: str, key: Any = None, **body: Any) -> Any:
    client = APIClient()
    client.force_authenticate(who)
    return client.post(address, body, format="json", headers={"Idempotency-Key": str(key or uuid4())})


def test_a_lead_counts_at_night_and_the_warehouse_gives_the_numbers(cast: Cast) -> None:
    cast.units("0001", "0002")
    key = uuid4()
    body = {
        "warehouse_id": cast.north.pk,
        "vehicle_id": cast.van.pk,
        "model_id": cast.mover.pk,
        "quantity": 2,
    }
    counted, again = send(cast.lead, ADDRESS, key, **body), send(cast.lead, ADDRESS, key, **body)
    assert (counted.status_code, again.data) == (201, counted.data)
    assert FastCount.objects.count() == 1
    numbers = f"{ADDRESS}/{counted.data['fast_count_id']}/numbers"
    named = send(cast.keeper, numbers, numbers=["1"])
    assert (named.status_code, named.data["lacking"]) == (200, 1)
    other = send(cast.keeper, numbers, numbers=["1"])
    assert (other.status_code, other.data["code"]) == (409, "not_of_this_count")
    assert send(cast.lead, ADDRESS, **{**body, "quantity": 0}).status_code == 400
    assert send(cast.dispatcher, ADDRESS, **body).status_code == 403
