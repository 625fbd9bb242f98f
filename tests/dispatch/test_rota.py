"""The rota: made, swapped, covered, taken out; what that does to the night is told before it is done."""

from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest
import time_machine
from django.db import DatabaseError, transaction
from django.test import Client

from dispatch import crew_facts, eligibility
from dispatch.models import CallOutOrder, Card, Crew, Notice, Person, RotaChange, Shift
from dispatch.rota import changing
from dispatch.rota.nights import tonight
from dispatch.rota.pages import rota_page
from dispatch.rota.restaff import CannotLead, CrewTaken, LeadNeedsCover, VehicleTaken
from dispatch.single_points import single_points
from equipment.models import Vehicle
from jobs.refusals import NotAllowed, Unusable
from tests.dispatch.night import NIGHT, TONIGHT, Night, person
from tests.dispatch.test_api_walk import Caller

SIX_PM = datetime(2026, 1, 16, 2, tzinfo=UTC)
EVENING = SIX_PM - timedelta(hours=2)
MICROBIAL = ("microbial_remediation", "medical_clearance", "fit_test")


@pytest.fixture
def staffed(night: Night) -> Night:
    """Tonight from 18:00 to 06:00: everybody has a shift, and Ada alone may do microbial work."""
    Crew.objects.update(starts_at=SIX_PM, ends_at=SIX_PM + timedelta(hours=12), at_latest=SIX_PM + timedelta(hours=14))
    Card.objects.filter(person=night.lapsed.lead).update(expires_on=None)
    for crew in (night.ready, night.empty, night.lapsed):
        crew.refresh_from_db()
        shift(crew.lead)
    Card.objects.bulk_create(Card(person=night.ready.lead, kind=kind) for kind in MICROBIAL)
    return night


def shift(who: Person, *, kind: str = "night", starts_at: datetime = SIX_PM, hours: float = 12) -> Shift:
    return Shift.objects.create(person=who, kind=kind, starts_at=starts_at, ends_at=starts_at + timedelta(hours=hours))


def of(who: Person) -> Shift:
    return Shift.objects.get(person=who)


def order(night: Night) -> list[str]:
    rows = CallOutOrder.objects.filter(area=night.cast.area, night_of=TONIGHT).order_by("position")
    return list(rows.values_list("person__name", flat=True))


def test_a_cover_tells_who_is_tired_and_what_has_no_lead_before_it_is_done(staffed: Night) -> None:
    ada, dan = staffed.ready.lead, person(staffed.cast, "Dan")
    shift(dan, kind="day", starts_at=SIX_PM - timedelta(hours=11), hours=9)
    asked = changing.covering(of(ada).pk, dan.pk, EVENING)
    told = changing.preview(asked, now=EVENING)
    (hit,) = told.nights
    assert any("No microbial lead in Washington" in line for line in hit.lost)
    assert hit.not_rested == ("Dan has 2.0 of 10 hours off between Thu 4:00 PM and Thu 6:00 PM.",)
    assert hit.barred == ("N1 cannot go: Dan has had 2 of 10 hours off before this shift.",)
    assert "Dan leads N1 instead of Ada." in told.did
    # Nothing of it was done.
    staffed.ready.refresh_from_db()
    assert (staffed.ready.lead_id, of(ada).person_id, order(staffed)) == (ada.pk, ada.pk, ["Ada", "Ben", "Cas"])
    assert not RotaChange.objects.exists()

    with pytest.raises(changing.RotaNeedsReason):
        changing.cover_shift(**by(staffed), shift_id=of(ada).pk, person_id=dan.pk, reason=" ")
    done = changing.cover_shift(**by(staffed), shift_id=of(ada).pk, person_id=dan.pk, reason="Ada is sick")
    assert done.effect == told
    staffed.ready.refresh_from_db()
    assert staffed.ready.lead_id == dan.pk
    assert order(staffed) == ["Dan", "Ben", "Cas"]
    assert not Shift.objects.filter(person=ada).exists()
    assert Shift.objects.get(pk=done.shift_ids[0]).person_id == dan.pk
    # The night's eligibility is fed by the rota: Dan's day shift is not over yet, and bars the crew all the same.
    (row,) = crew_facts.rows_of([staffed.ready], now=EVENING - timedelta(hours=1))
    reason = eligibility.why_not_fit(row.facts, at=SIX_PM)
    assert reason is not None
    assert reason.code == "rest"
    page = rota_page(area=staffed.cast.area, now=EVENING)
    assert [(line.what, line.reason) for line in page.changes] == [("shift covered", "Ada is sick")]
    assert page.short_rests == hit.not_rested
    with pytest.raises(DatabaseError), transaction.atomic():
        RotaChange.objects.update(reason="something else")


def test_two_leads_of_one_night_change_places_whole(staffed: Night) -> None:
    ada, ben = staffed.ready.lead, staffed.empty.lead
    done = changing.swap_shifts(
        **by(staffed), shift_id=of(ada).pk, with_shift_id=of(ben).pk, reason="Ben knows the area"
    )
    staffed.ready.refresh_from_db()
    staffed.empty.refresh_from_db()
    assert (staffed.ready.lead_id, staffed.empty.lead_id) == (ben.pk, ada.pk)
    assert (staffed.ready.starts_at, staffed.empty.starts_at) == (SIX_PM, SIX_PM)
    assert order(staffed) == ["Ben", "Ada", "Cas"]
    assert done.effect.nights[0].quiet
    assert {row.person_id for row in Shift.objects.filter(pk__in=done.shift_ids)} == {ada.pk, ben.pk}


def test_what_would_leave_a_crew_without_a_lead_or_somebody_twice_is_refused_whole(staffed: Night) -> None:
    ada, ben = staffed.ready.lead, staffed.empty.lead
    eve = person(staffed.cast, "Eve")
    Person.objects.filter(pk=eve.pk).update(can_lead=False)
    eve.refresh_from_db()
    with pytest.raises(CannotLead):
        changing.cover_shift(**by(staffed), shift_id=of(ada).pk, person_id=eve.pk, reason="sick")
    with pytest.raises(changing.ShiftTaken):
        changing.cover_shift(**by(staffed), shift_id=of(ada).pk, person_id=ben.pk, reason="sick")
    with pytest.raises(LeadNeedsCover):
        changing.cancel_shift(**by(staffed), shift_id=of(ada).pk, reason="sick")
    Shift.objects.filter(person=ben).delete()
    with pytest.raises(CrewTaken):
        changing.cover_shift(**by(staffed), shift_id=of(ada).pk, person_id=ben.pk, reason="sick")
    with pytest.raises(NotAllowed):
        changing.cancel_shift(**by(staffed, ada.user), shift_id=of(ada).pk, reason="sick")
    with pytest.raises(Unusable, match="over"):
        changing.cancel_shift(**by(staffed, at=SIX_PM + timedelta(hours=12)), shift_id=of(ada).pk, reason="sick")
    assert order(staffed) == ["Ada", "Ben", "Cas"]
    assert not RotaChange.objects.exists()


def test_a_shift_on_call_is_made_with_a_place_in_the_order_and_a_helper_taken_out(staffed: Night) -> None:
    eve = person(staffed.cast, "Eve")
    made = changing.make_shift(
        **by(staffed), person_id=eve.pk, kind="on_call", starts_at=SIX_PM, ends_at=SIX_PM + timedelta(hours=12)
    )
    assert order(staffed) == ["Ada", "Ben", "Cas", "Eve"]
    Crew.objects.filter(pk=staffed.ready.pk).update(helper=eve)
    # Eve has no fit test: with her as a helper nobody may do microbial work, without her Ada may again.
    done = changing.cancel_shift(**by(staffed), shift_id=made.shift_ids[0], reason="sick since noon")
    assert any("microbial lead in Washington" in line for line in done.effect.nights[0].gained)
    staffed.ready.refresh_from_db()
    assert staffed.ready.helper_id is None
    assert order(staffed) == ["Ada", "Ben", "Cas"]
    ids = [staffed.lapsed.lead.pk, staffed.ready.lead.pk]
    changing.order_call_outs(**by(staffed), area_id=staffed.cast.area.pk, night_of=TONIGHT, person_ids=ids)
    assert order(staffed) == ["Cas", "Ada"]


def test_the_night_hangs_on_the_one_lead_who_may_and_the_one_unit_left(staffed: Night) -> None:
    said = {point.said: point for point in single_points(area=staffed.cast.area, now=NIGHT)}
    (only,) = [point for point in said.values() if point.what == "microbial" and point.state == "WA"]
    assert only.said == "Only one microbial lead in Washington tonight: Ada (N1), rested until 6:00 AM."
    assert only.left == 1
    Card.objects.filter(person=staffed.ready.lead, kind="fit_test").update(expires_on=TONIGHT)
    # The fit test lapses at midnight, and with it the last crew for microbial work.
    after = single_points(area=staffed.cast.area, now=NIGHT + timedelta(hours=2))
    assert [point.said for point in after if point.what == "microbial"] == [
        "No microbial lead in Oregon tonight.", "No microbial lead in Washington tonight."
    ]  # fmt: skip
    assert not any(point.what == "asbestos" for point in after)


@pytest.mark.parametrize(
    ("local", "of_day"), [("2026-01-15T05:59", 14), ("2026-01-15T06:00", 15), ("2026-01-15T23:00", 15)]
)
def test_tonight_is_the_running_night_until_its_morning(night: Night, local: str, of_day: int) -> None:
    now = datetime.fromisoformat(local).replace(tzinfo=night.cast.area.zone)
    assert tonight(night.cast.area, now).of.day == of_day


def test_a_night_is_an_hour_shorter_or_longer_when_clocks_change(night: Night) -> None:
    hours = []
    for at in (datetime(2026, 3, 7, 20, tzinfo=UTC), datetime(2026, 10, 31, 20, tzinfo=UTC)):
        found = tonight(night.cast.area, at)
        hours.append((found.ends_at.astimezone(UTC) - found.starts_at.astimezone(UTC)).total_seconds() / 3600)
    assert hours == [11, 13]


@time_machine.travel(EVENING, tick=False)
def test_the_page_shows_what_a_change_does_and_does_it_only_when_told(staffed: Night) -> None:
    ada, dan = staffed.ready.lead, person(staffed.cast, "Dan")
    desk = Client()
    desk.force_login(staffed.dispatcher)
    page = desk.get("/desk/rota").content.decode()
    assert "leads N1" in page
    assert "Only one microbial lead in Washington tonight: Ada" in page
    board = desk.get("/desk").content.decode()
    assert "Only one microbial lead in Washington tonight: Ada" in board
    form = {
        "what": "cover",
        "shift_id": str(of(ada).pk),
        "person_id": str(dan.pk),
        "day": "2026-01-15",
        "reason": "sick",
    }
    assert "Who takes it" in desk.get("/desk/rota/change", form).content.decode()
    shown = desk.post("/desk/rota/change", form).content.decode()
    assert "No microbial lead in Washington" in shown
    assert of(ada)
    nameless = desk.post("/desk/rota/change", {**form, "reason": "", "confirm": "yes", "key": str(uuid4())})
    assert nameless.status_code == 422
    assert f'value="{dan.pk}" selected' in nameless.content.decode()
    done = desk.post("/desk/rota/change", {**form, "confirm": "yes", "key": str(uuid4())})
    assert done["Location"] == "/desk/rota?day=2026-01-15"
    assert not Shift.objects.filter(person=ada).exists()
    hours = {"what": "make", "person_id": str(ada.pk), "kind": "on_call", "day": "2026-01-16", "from": "22:00"}
    assert "ends" in desk.post("/desk/rota/change", hours).content.decode()
    hours |= {"until": "06:00", "confirm": "yes", "key": str(uuid4())}
    assert desk.post("/desk/rota/change", hours).status_code == 302
    assert of(ada).ends_at - of(ada).starts_at == timedelta(hours=8)

    caller = Caller(staffed.dispatcher)
    rota: Any = caller.get(f"areas/{staffed.cast.area.code}/rota?day=2026-01-15")
    mine = next(line["shift_id"] for line in rota["shifts"] if line["person"] == "Dan")
    assert caller.post("rota/cancel/try", 409, shift_id=mine)["code"] == "lead_needs_cover"
    assert caller.post("rota/cover/try", shift_id=mine, person_id=ada.pk)["did"]
    assert caller.post("rota/cancel", 409, shift_id=mine, reason="sick")["code"] == "lead_needs_cover"
    back = caller.post("rota/cover", 201, shift_id=mine, person_id=person(staffed.cast, "Fay").pk, reason="sick too")
    assert back["effect"]["did"]
    thin = caller.get(f"areas/{staffed.cast.area.code}/single-points")
    assert {"No microbial lead in Washington tonight."} <= {point["said"] for point in thin}


def by(night: Night, who: Any = None, at: datetime = EVENING) -> dict[str, Any]:
    return night.by(who or night.dispatcher, at)


def test_a_shift_is_made_with_its_vehicle_and_everybody_hears_what_changed(staffed: Night, client: Client) -> None:
    eve, fay = person(staffed.cast, "Eve"), person(staffed.cast, "Fay")
    Person.objects.filter(pk=fay.pk).update(can_lead=False)
    van = Vehicle.objects.create(
        area=staffed.cast.area, code="V9", name="Van 9", kind="van", home=staffed.cast.south, gvwr_lb=9000,
        payload_lb=3000, cargo_cuft=300,
    )  # fmt: skip
    hours = {"kind": "night", "starts_at": SIX_PM, "ends_at": SIX_PM + timedelta(hours=12)}
    with pytest.raises(CannotLead, match="Make the lead's shift first"):
        changing.make_shift(**by(staffed), person_id=fay.pk, vehicle_id=van.pk, **hours)
    Vehicle.objects.filter(pk=van.pk).update(in_workshop=True)
    with pytest.raises(VehicleTaken, match="is in the workshop"):
        changing.make_shift(**by(staffed), person_id=eve.pk, vehicle_id=van.pk, **hours)
    Vehicle.objects.filter(pk=van.pk).update(in_workshop=False)
    client.force_login(staffed.dispatcher)
    body = {"person_id": eve.pk, "vehicle_id": van.pk, **hours}
    with time_machine.travel(EVENING, tick=False):
        tried = client.post("/api/v1/rota/make/try", body, "application/json", HTTP_IDEMPOTENCY_KEY=str(uuid4()))
        assert "Eve leads V9 with Van 9, from South warehouse." in tried.json()["did"]
        assert not Crew.objects.filter(vehicle=van).exists()
        assert not Notice.objects.exists()
        made = client.post("/api/v1/rota/make", body, "application/json", HTTP_IDEMPOTENCY_KEY=str(uuid4()))
        assert made.status_code == 201, made.content
    crew = Crew.objects.get(vehicle=van)
    assert (crew.lead_id, crew.name, crew.service_day, crew.starts_at, crew.on_call) == (
        eve.pk, "V9", TONIGHT, SIX_PM, True
    )  # fmt: skip
    changing.make_shift(**by(staffed), person_id=fay.pk, vehicle_id=van.pk, **hours)
    crew.refresh_from_db()
    assert crew.helper_id == fay.pk
    gus = person(staffed.cast, "Gus")
    with pytest.raises(VehicleTaken, match="Eve"):
        changing.make_shift(**by(staffed), person_id=gus.pk, vehicle_id=van.pk, **hours)
    told = dict(Notice.objects.values_list("person__name", "text"))
    assert set(told) == {"Eve", "Fay"}
    assert told["Fay"].endswith("Fay helps on V9 with Van 9.")
    changing.cover_shift(**by(staffed), shift_id=of(eve).pk, person_id=gus.pk, reason="Eve is sick")
    assert "Gus leads V9 instead of Eve." in Notice.objects.get(person=gus).text
    assert Notice.objects.filter(person=eve).count() == 2
