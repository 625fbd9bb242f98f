"""What is suggested at a stop, and the lead's decision beside it: on the page, by API, and in the drying record."""

from datetime import timedelta
from io import BytesIO
from typing import Any

import pytest
from django.test import Client
from pypdf import PdfReader

from dispatch.emergencies import Sent
from jobs.models import AirReading, LeadsWord, MaterialPoint
from tests.dispatch.crew.test_crew_room import client, post
from tests.dispatch.crew.test_on_site import api, page
from tests.dispatch.night import NIGHT, Night

PULL = "Take 3 air movers away from kitchen."

pytestmark = pytest.mark.usefixtures("clock")


@pytest.fixture
def ben(night: Night, sent: Sent) -> Client:
    """The lead at the stop: three air movers in the kitchen, one point there and one in the hall."""
    who = client(night.empty.lead.user)
    post(who, sent, "arrive")
    post(who, sent, "place", numbers="2000 2001 2002 2900", room_name="kitchen")
    for room, value in (("kitchen", "30"), ("hall", "31")):
        new = {"new_room": room, "new_material": "drywall", "new_meter": "pin 1", "new_scale": "relative_0_100"}
        post(who, sent, "readings", **new, new_standard="8", new_goal="12", new_value=value, confirmed="yes")
    return who


def test_a_decision_is_kept_beside_the_suggestion(ben: Client, sent: Sent, night: Night, clock: Any) -> None:
    assert "leave everything as it stands" in page(ben, sent)
    kitchen, hall = MaterialPoint.objects.order_by("number")
    clock.move_to(NIGHT + timedelta(hours=5))
    assert post(ben, sent, "readings", **{f"p_{kitchen.pk}": "11", f"p_{hall.pk}": "29"}).status_code == 302
    shown = page(ben, sent)
    assert PULL in shown
    for line in ("Read the air and 2 points: 1 above goal.", "Count 4 units; 1 hour meter.", "Decide on 1 suggestion"):
        assert line in shown
    assert "kitchen is at goal by reading: point 1 11 (goal 12)" in shown

    refused = post(ben, sent, "advice", advice="pull:kitchen", decision="not", seen=PULL)
    assert (refused.status_code, "Say in a few words why." in refused.content.decode()) == (422, True)
    typed = {"advice": "pull:kitchen", "decision": "not", "seen": PULL, "advice_reason": "still cool behind the stove"}
    post(ben, sent, "advice", **typed)
    word = LeadsWord.objects.get(topic="advice:pull:kitchen")
    assert (word.suggestion, word.word, word.reason) == (PULL, "not done", "still cool behind the stove")

    # What was suggested goes on being suggested, with another decision when there is one.
    (line,) = ben.get(f"/api/v1/stops/{sent.visit_id}/advice").json()
    assert line["what"].startswith(PULL)
    assert api(ben, sent, "advice", {"advice": "pull:kitchen", "follow": True}).status_code == 201
    (line,) = ben.get(f"/api/v1/stops/{sent.visit_id}/advice").json()
    assert (line["decided"]["word"], line["decided"]["reason"]) == ("done so", "as suggested")
    assert api(ben, sent, "advice", {"advice": "pull:attic", "follow": True}).json()["code"] == "advice_not_found"
    ada = client(night.ready.lead.user)
    assert ada.get(f"/api/v1/stops/{sent.visit_id}/advice").status_code == 404

    answer = client(night.dispatcher).get(f"/desk/jobs/{sent.job_number}/drying-record.pdf")
    text = " ".join(part.extract_text() for part in PdfReader(BytesIO(answer.content)).pages)
    assert "still cool behind the stove" in " ".join(text.split())


def test_the_air_is_read_at_each_dehumidifiers_outlet_at_once(ben: Client, sent: Sent) -> None:
    post(ben, sent, "place", numbers="2901", room_name="kitchen")
    shown = page(ben, sent)
    assert 'name="t_outlet_2900"' in shown
    assert "Air, outlet of 2901" in shown
    air = {"t_inside": "74", "h_inside": "58", "t_outlet_2900": "90", "h_outlet_2900": "20", "u_outlet_2900": "2900"}
    bad = post(ben, sent, "readings", **air, t_outlet_2901="ninety", h_outlet_2901="22", u_outlet_2901="2901")
    assert 'id="t_outlet_2901-refused"' in bad.content.decode()
    half = post(ben, sent, "readings", **air, t_outlet_2901="91", u_outlet_2901="2901")
    assert 'id="h_outlet_2901-refused"' in half.content.decode()
    post(ben, sent, "readings", **air, t_outlet_2901="91", h_outlet_2901="22", u_outlet_2901="2901")
    kept = AirReading.objects.filter(where="outlet").order_by("pk").values_list("unit_number", "dry_bulb_f")
    assert list(kept) == [("2900", 90), ("2901", 91)]
