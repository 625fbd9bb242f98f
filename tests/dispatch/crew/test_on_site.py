"""Counting, hour meters and the power plan at a stop: by page and by API, with what the record keeps of them."""

from datetime import timedelta
from io import BytesIO
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from pypdf import PdfReader

from dispatch.emergencies import Sent
from equipment.models import Alarm, Discrepancy, MeterReading, PowerPlan, SiteCount, UnitNow
from jobs.models import Job
from tests.dispatch.crew.test_crew_room import client, post
from tests.dispatch.night import NIGHT, Night

LATER = NIGHT + timedelta(hours=6)

pytestmark = pytest.mark.usefixtures("clock")


@pytest.fixture
def ben(night: Night, sent: Sent) -> Client:
    """The lead at the stop, with two air movers and a dehumidifier placed."""
    who = client(night.empty.lead.user)
    post(who, sent, "arrive")
    post(who, sent, "place", numbers="2000 2001 2900", room_name="kitchen")
    return who


def page(who: Client, sent: Sent) -> str:
    return who.get(f"/crew/stops/{sent.visit_id}").content.decode()


def api(who: Client, sent: Sent, what: str, body: dict[str, Any]) -> Any:
    address = f"/api/v1/stops/{sent.visit_id}/{what}"
    return who.post(address, body, "application/json", headers={"Idempotency-Key": str(uuid4())})


def test_one_unit_fewer_is_one_tap(ben: Client, sent: Sent, night: Night, clock: Any) -> None:
    assert 'name="seen" value="2">I see 2<' in page(ben, sent)
    clock.move_to(LATER)
    earlier = LATER - timedelta(hours=2)
    assert post(ben, sent, "count", seen="2", happened_at=earlier.isoformat()).status_code == 302
    count = SiteCount.objects.get()
    assert (count.listed, count.seen, count.counted_at, count.recorded_at) == (3, 2, earlier, LATER)
    assert Alarm.objects.get(kind="site_count").text == f"{sent.job_number}: 3 units on record, 2 seen."
    assert not UnitNow.objects.filter(holder__job_id=sent.job_id, seen_at__gt=NIGHT).exists()
    # Nothing is moved: who looks for it decides that.
    assert UnitNow.objects.filter(holder__job_id=sent.job_id).count() == 3

    assert post(ben, sent, "count", missing="2001").status_code == 302
    assert Discrepancy.objects.get(found__startswith="not seen").unit.number == "2001"
    seen = UnitNow.objects.filter(holder__job_id=sent.job_id, seen_at=LATER).order_by("unit__number")
    assert list(seen.values_list("unit__number", flat=True)) == ["2000", "2900"]
    assert api(ben, sent, "counts", {"seen": 3}).json()["alarm_id"] is None
    assert api(ben, sent, "counts", {"missing": ["2005"]}).json()["code"] == "not_listed_here"
    refused = post(ben, sent, "count", seen_other="a few")
    assert "Say how many units you see, in digits." in refused.content.decode()
    assert 'value="a few"' in refused.content.decode()


def test_silent_hours_are_said_and_the_reason_asked(ben: Client, sent: Sent, night: Night, clock: Any) -> None:
    assert (
        api(ben, sent, "meters", {"meters": [{"number": "2900", "hours": 500}]}).json()["lines"][0]["says"] == "first"
    )
    clock.move_to(LATER)
    asked = post(ben, sent, "meters", m_2900="503.5")
    text = asked.content.decode()
    assert asked.status_code == 422
    assert "Unit 2900 ran 3.5 of 6 hours." in text
    assert 'value="503.5"' in text
    assert MeterReading.objects.count() == 1
    assert api(ben, sent, "meters", {"meters": [{"number": "2900", "hours": 490}]}).json()["code"] == "hours_asked"
    assert post(ben, sent, "meters", m_2900="503.5", mr_2900="Breaker tripped").status_code == 302
    row = MeterReading.objects.get(says="silent")
    assert (row.clock_h, row.ran_h, row.silent_h, row.reason) == (6, 3.5, 2.5, "Breaker tripped")
    assert "unit 2900 ran 3.5 of 6 hours (Breaker tripped)" in Alarm.objects.get(kind="silent_hours").text
    assert "Unit 2900 ran 3.5 of 6 hours: Breaker tripped" in page(ben, sent)
    clock.move_to(LATER + timedelta(hours=2))
    done = api(ben, sent, "meters", {"meters": [{"number": "2900", "hours": 505.5}]}).json()["lines"][0]
    assert (done["says"], done["silent_h"]) == ("ran", 0)
    assert api(ben, sent, "meters", {"meters": [{"number": "2902", "hours": 5}]}).json()["code"] == "meter_not_here"
    record = client(night.dispatcher).get(f"/api/v1/jobs/{sent.job_id}/drying-record").json()
    assert [line["silent_h"] for line in record["meters"]] == [None, 2.5, 0]


def test_a_power_plan_warns_and_keeps_the_leads_word(ben: Client, sent: Sent, night: Night) -> None:
    night.cast.dehumidifier.running_a, night.cast.mover.running_a = 7.5, 2.5
    night.cast.dehumidifier.save()
    night.cast.mover.save()
    refused = post(ben, sent, "power", circuits="Kitchen 15, the hall")
    assert refused.status_code == 422
    assert 'value="Kitchen 15, the hall"' in refused.content.decode()
    # Without places the suggestion is kept: 7.5 and 2.5 on 12 A, the rest on 16 less 10 in use.
    assert post(ben, sent, "power", circuits="Kitchen 15, 20 (10)").status_code == 302
    plan = ben.get(f"/api/v1/stops/{sent.visit_id}/power").json()
    assert [(use["name"], use["limit_a"], use["over_a"]) for use in plan["circuits"]] == [
        ("Kitchen", 12, 0),
        ("Circuit 2", 6, 0),
    ]
    assert sum(use["used_a"] for use in plan["circuits"]) == 12.5
    assert Job.objects.get(pk=sent.job_id).circuits == [
        {"breaker_a": 15, "reserved_a": 0},
        {"breaker_a": 20, "reserved_a": 10},
    ]
    # The lead's own places stand, over the line too; the suggestion stays beside them.
    mine = {"w_2000": "1", "w_2001": "1", "w_2900": "1"}
    assert post(ben, sent, "power", circuits="Kitchen 15, 20 (10)", **mine).status_code == 302
    text = page(ben, sent)
    assert "Kitchen: 12.5 A, the line for hours is 12 A. Move a unit." in text
    assert "suggested: " in text
    post(ben, sent, "place", numbers="2002", room_name="hall")
    assert "On no circuit: 2002." in page(ben, sent)
    assert PowerPlan.objects.count() == 2
    assert api(ben, sent, "power", {"circuits": [{"name": "A", "breaker_a": 15}], "places": [
        {"number": "2000", "circuit": 2}]}).status_code == 422  # fmt: skip
    post(ben, sent, "count", seen="3")
    api(ben, sent, "meters", {"meters": [{"number": "2900", "hours": 500}]})
    address = f"/desk/jobs/{sent.job_number}/drying-record.pdf"
    pdf = PdfReader(BytesIO(client(night.dispatcher).get(address).content))
    printed = " ".join(page.extract_text() for page in pdf.pages)
    for said in ("Power plans", "12.5 of 12, over by 0.5", "Hour meters", "Counted on site"):
        assert said in printed
