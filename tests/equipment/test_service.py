"""Service by the hour meter: due when the model's interval is run, and counted anew from each service."""

from uuid import uuid4

import pytest
from django.db import DatabaseError, transaction
from django.test import Client

from equipment import custody, selectors
from equipment.models import EquipmentModel, Service
from equipment.selectors.service import due_for_service
from equipment.service import MeterUnknown, record_service
from jobs.refusals import NotThere, Unusable
from tests.equipment.cast import DAY, HOUR, NIGHT, Cast


@pytest.fixture
def metered(cast: Cast) -> Cast:
    """Dehumidifiers are serviced every 900 h; air movers have no interval."""
    EquipmentModel.objects.filter(code="LGR").update(service_hours=900)
    cast.units("0001", model=cast.dehumidifier, hour_meter=899.5)
    cast.units("0002", model=cast.dehumidifier, hour_meter=900)
    cast.units("0003", model=cast.dehumidifier)
    cast.units("0004", hour_meter=5_000)
    return cast


def due(cast: Cast) -> list[tuple[str, float]]:
    return [(row.number, row.hours) for row in due_for_service(warehouse_id=cast.north.pk)]


def test_due_when_the_interval_is_run(metered: Cast) -> None:
    assert due(metered) == [("0002", 900)]


def test_a_reading_at_a_move_makes_it_due_and_a_service_begins_anew(metered: Cast) -> None:
    job = metered.job(stage="drying")
    by = metered.by(metered.lead, NIGHT + HOUR)
    custody.scan_out(**metered.by(metered.keeper), numbers=("1",), vehicle_id=metered.van.pk)
    custody.place_units(**by, job_id=job.pk, numbers=("1",), room_name="hall", hour_meters=(("0001", 910.0),))
    custody.scan_in(
        **metered.by(metered.keeper, NIGHT + DAY),
        numbers=("1",),
        warehouse_id=metered.north.pk,
        hour_meters=(("0001", 950.0),),
    )
    assert due(metered) == [("0001", 950), ("0002", 900)]

    kept = record_service(**metered.by(metered.keeper, NIGHT + DAY), number="1")
    assert (kept.hour_meter, kept.next_due_h) == (950, 1850)
    record_service(**metered.by(metered.keeper, NIGHT + DAY), number="2", hour_meter=901)
    assert due(metered) == []


def test_a_service_needs_a_meter(metered: Cast) -> None:
    with pytest.raises(MeterUnknown):
        record_service(**metered.by(metered.keeper), number="3")
    with pytest.raises(Unusable):
        record_service(**metered.by(metered.keeper), number="3", hour_meter=-1)
    with pytest.raises(NotThere):
        record_service(**metered.by(metered.keeper), number="77")
    assert not Service.objects.exists()


def test_a_service_is_never_rewritten(metered: Cast) -> None:
    record_service(**metered.by(metered.keeper), number="2")
    with pytest.raises(DatabaseError), transaction.atomic():
        Service.objects.update(hour_meter=1)


def test_the_cleaning_page_shows_it_and_takes_the_service(metered: Cast, client: Client) -> None:
    custody.set_condition(**metered.by(metered.keeper), numbers=("2",), condition="not_yet_cleaned")
    client.force_login(metered.keeper)
    page = client.get("/warehouse/north/cleaning").content.decode()
    assert "service due" in page
    assert "due every 900 h" in page

    sent = {"key": str(uuid4()), "do": "serviced", "number": "0002", "hour_meter": "902"}
    page = client.post("/warehouse/north/cleaning", sent).content.decode()
    assert "Next at 1802 h." in page
    assert "service due" not in page


def test_from_category_3_decontamination_and_a_new_filter_are_asked_for_in_order(metered: Cast) -> None:
    metered.units("0009", model=metered.dehumidifier, condition="held_back", water_category=3)
    metered.units("0010", model=metered.dehumidifier, condition="broken", water_category=3)
    metered.units("0011", model=metered.dehumidifier, condition="not_yet_cleaned", water_category=2)

    queue = {
        row.number: [step.word for step in row.steps]
        for row in selectors.cleaning_queue(warehouse_id=metered.north.pk, now=NIGHT)
    }

    assert queue["0009"] == ["decontaminated", "filter_changed", "tested"]
    assert queue["0010"] == ["repaired", "decontaminated", "filter_changed", "tested"]
    assert queue["0011"] == ["cleaned", "tested"]
