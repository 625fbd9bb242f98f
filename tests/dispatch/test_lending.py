"""What other firms lend: held against the same rules as ours, never in our numbers, gone with the loan."""

import json
from datetime import date, timedelta
from typing import Any
from uuid import uuid4

import pytest
import time_machine
from django.contrib.auth.models import User
from django.test import Client

from dispatch import lending
from dispatch.emergencies import send
from dispatch.lending import LentCard, LentPerson, LentVehicle
from dispatch.manager.loans import loans
from dispatch.manager.pages import overview
from dispatch.manager.surge_page import surge_page
from dispatch.measures.cases import Span
from dispatch.measures.stock import not_found, ready_share, utilization_by_count
from dispatch.models import CallOut, Stop
from dispatch.offering import offers
from dispatch.replay.verbs import verbs
from equipment import custody, reservations, selectors
from equipment.audit import audit
from equipment.lending import LoanInUse, lend_units
from equipment.models import Unit
from equipment.selectors.by_hour import free_by_hour
from jobs.refusals import NotAllowed, Refusal, Unusable
from tests.dispatch.night import CAPACITY, NIGHT, TONIGHT, Night

FIRM = "Fernhill Drying"
GOOD, LAPSED = TONIGHT + timedelta(days=90), TONIGHT - timedelta(days=1)
UNTIL = NIGHT + timedelta(hours=8)


def lend(night: Night, name: str, *, card: Any = GOOD, states: tuple[str, ...] = ("WA",), **changed: Any) -> Any:
    told: dict[str, Any] = {
        "warehouse_id": night.cast.north.pk,
        "firm": FIRM,
        "agreed_with": "their night desk",
        "starts_at": NIGHT - timedelta(hours=1),
        "ends_at": UNTIL,
        "name": name,
        "lead": LentPerson("Dee", "360-555-0177", (LentCard("water_technician", "", card),)),
        "vehicle": LentVehicle("White van", 9000, 3000, 300, tuple(sorted(CAPACITY.items()))),
        "licenses": tuple(LentCard("contractor", state, GOOD) for state in states),
    }
    return lending.lend_crew(**night.by(night.cast.manager), **{**told, **changed})


def lend_movers(night: Night, *pairs: tuple[str, str], **changed: Any) -> Any:
    told: dict[str, Any] = {
        "warehouse_id": night.cast.north.pk,
        "model_id": night.cast.mover.pk,
        "firm": FIRM,
        "agreed_with": "their night desk",
        "starts_at": NIGHT - timedelta(hours=1),
        "ends_at": UNTIL,
        "units": pairs,
    }
    return lend_units(**night.by(night.cast.manager), **{**told, **changed})


def test_a_lent_lead_is_refused_for_the_same_reasons_as_ours(night: Night) -> None:
    lend(night, "L1", card=LAPSED)
    lend(night, "L2", states=("OR",))
    good = lend(night, "L3")

    found = offers(call_id=night.call(), now=NIGHT)

    no = {row.crew: row for row in found.not_offered}
    assert (no["L1"].code, no["L1"].lent_by) == (no["N3"].code, FIRM)
    assert no["L1"].reason == no["N3"].reason.replace("Cas", "Dee")
    assert no["L2"].reason == "The firm's license for WA is missing or lapsed."
    assert {row.crew: row.lent_by for row in found.offers} == {"N1": "", "N2": "", "L3": FIRM}
    lines = {row.crew: row for line in loans(area=night.cast.area, now=NIGHT).lines for row in line.crews}
    assert (lines["L1"].may_go, lines["L2"].may_go, lines["L3"].may_go) == ((), ("OR",), ("WA",))
    # Until its last moment, not after it, and no more once it was ended.
    before = UNTIL - timedelta(minutes=1)
    assert "L3" in {row.crew for row in offers(call_id=night.call(), now=before).not_offered}
    late = offers(call_id=night.call(), now=UNTIL)
    assert not [row for row in (*late.offers, *late.not_offered) if row.lent_by]
    lending.end_loan(**night.by(night.cast.manager), loan_id=good.loan_id)
    assert "L3" not in {row.crew for row in offers(call_id=night.call(), now=NIGHT).offers}
    with pytest.raises(lending.LoanOver):
        lending.end_loan(**night.by(night.cast.manager), loan_id=good.loan_id)


def test_a_lent_crew_is_sent_like_ours_and_keeps_its_loan_open(night: Night) -> None:
    lent = lend(night, "L1")
    sent = send(**night.by(night.dispatcher), call_id=night.call(), crew_id=lent.crew_id)
    assert CallOut.objects.get(pk=sent.call_out_id).crew_id == lent.crew_id
    with pytest.raises(LoanInUse, match=f"L1 still has {sent.job_number} on its route"):
        lending.end_loan(**night.by(night.cast.manager), loan_id=lent.loan_id)
    Stop.objects.filter(crew=lent.crew_id).delete()
    keeper = night.by(night.cast.keeper)
    custody.scan_out(**keeper, numbers=("2000",), vehicle_id=lent.vehicle_id)
    with pytest.raises(LoanInUse, match="aboard White van"):
        lending.end_loan(**night.by(night.cast.manager), loan_id=lent.loan_id)


def _ours(night: Night) -> tuple[Any, ...]:
    area = night.cast.area
    shown, surge = overview(area=area, now=NIGHT), surge_page(area=area, now=NIGHT)
    span = Span.month(area_id=area.pk, zone=area.zone, year=NIGHT.year, month=NIGHT.month, now=NIGHT)
    return (
        (shown.free, shown.crews, shown.rented, shown.cards, shown.single_points),
        (surge.capacity, surge.bases, surge.crews, surge.transfers, surge.runs_out),
        selectors.availability(area_id=area.pk, now=NIGHT),
        free_by_hour(area_id=area.pk, now=NIGHT, hours=3),
        (ready_share(span), not_found(span), utilization_by_count(span)),
    )


def test_nothing_lent_is_in_our_numbers_and_units_are_reserved_apart(night: Night) -> None:
    job, before = night.cast.job(), _ours(night)
    lend(night, "L1", card=TONIGHT + timedelta(days=3))
    lent = lend_movers(night, ("8001", "F-77"), ("8002", "F-78"))
    assert lent.numbers == ("8001", "8002")
    assert _ours(night) == before

    held: dict[str, Any] = {
        "job_id": job.pk,
        "starts_at": NIGHT,
        "keep_for": timedelta(hours=1),
        "leads_reason": "lent",
    }
    with pytest.raises(Unusable, match=f"lent by {FIRM} until"):
        night_hold(night, lent.pool_id, ends_at=UNTIL + timedelta(seconds=1), **held)
    with pytest.raises(Refusal, match="free"):
        night_hold(night, lent.pool_id, count=3, ends_at=UNTIL, **held)
    night_hold(night, lent.pool_id, ends_at=UNTIL, **held)
    (line,) = [row for row in loans(area=night.cast.area, now=NIGHT).lines if row.units]
    assert [(row.stock, row.free) for row in line.units[0].places] == [(2, 0)]
    with pytest.raises(LoanInUse, match="promised to job"):
        lending.end_loan(**night.by(night.cast.manager), loan_id=lent.loan_id)
    out = custody.scan_out(
        **night.by(night.cast.keeper), numbers=("8001",), vehicle_id=night.cast.van.pk, job_id=job.pk
    )
    assert out.scans[0].word
    assert _ours(night)[1] == before[1]
    assert not audit()


def night_hold(night: Night, pool_id: int, *, count: int = 2, **held: Any) -> Any:
    return reservations.hold(**night.by(night.dispatcher), wanted=((pool_id, count),), **held)


def test_an_ended_loan_gives_its_units_back(night: Night) -> None:
    lent = lend_movers(night, ("8001", "F-77"))
    with pytest.raises(custody.NotRented, match="End the loan"):
        custody.call_off(**night.by(night.cast.keeper), numbers=("8001",), call_off_number="9")
    ended = lending.end_loan(**night.by(night.cast.manager), loan_id=lent.loan_id)
    assert ended.numbers == ("8001",)
    assert loans(area=night.cast.area, now=NIGHT).lines == ()
    assert str(Unit.objects.get(number="8001").now.holder) == FIRM
    assert not audit()


@pytest.mark.parametrize(
    ("changed", "code", "where"),
    [
        ({"ends_at": NIGHT}, "unusable_value", "ends_at"),
        ({"starts_at": NIGHT, "ends_at": NIGHT + timedelta(days=2)}, "unusable_value", "ends_at"),
        ({"firm": " "}, "unusable_value", "firm"),
        ({"agreed_with": ""}, "unusable_value", "agreed_with"),
        ({"lead": LentPerson("Dee", "")}, "unusable_value", "lead"),
        ({"lead": LentPerson("Dee", "1", (LentCard("juggler"),))}, "unusable_value", "lead"),
        ({"licenses": (LentCard("contractor", ""),)}, "unusable_value", "licenses"),
        ({"vehicle": LentVehicle("Van", 100, 100, 1, ())}, "unusable_value", "vehicle"),
        ({"warehouse_id": 10**6}, "not_found", "warehouse_id"),
        ({"name": "N1"}, "crew_name_taken", None),
    ],
)
def test_a_crew_that_cannot_be_meant_is_refused(
    night: Night, changed: dict[str, Any], code: str, where: str | None
) -> None:
    with pytest.raises(Refusal) as refused:
        lend(night, **{"name": "L1", **changed})
    assert (refused.value.code, refused.value.where) == (code, where)
    assert loans(area=night.cast.area, now=NIGHT).lines == ()


def test_units_that_cannot_be_meant_are_refused(night: Night) -> None:
    for pairs, changed, code in (
        ((("1000", "F-1"),), {}, "number_taken"),
        ((("8001", " "),), {}, "unusable_value"),
        ((), {}, "unusable_value"),
        ((("8001", "F-1"),), {"starts_at": NIGHT + timedelta(hours=1)}, "unusable_value"),
        ((("8001", "F-1"),), {"model_id": 10**6}, "not_found"),
    ):
        with pytest.raises(Refusal) as refused:
            lend_movers(night, *pairs, **changed)
        assert refused.value.code == code
    with pytest.raises(NotAllowed):
        lending.end_loan(**night.by(night.dispatcher), loan_id=1)


def test_a_replay_reads_a_lent_crew_from_json() -> None:
    step = {
        "warehouse_id": 1,
        "firm": FIRM,
        "agreed_with": "their night desk",
        "starts_at": "2026-01-15T18:00:00-08:00",
        "ends_at": "2026-01-16T02:00:00-08:00",
        "name": "L1",
        "lead": {"name": "Dee", "phone": "1", "cards": [{"kind": "water_technician", "expires_on": "2026-05-31"}]},
        "vehicle": {"name": "Van", "gvwr_lb": 9000, "payload_lb": 3000, "cargo_cuft": 300, "capacity": [["lgr", 2]]},
        "licenses": [{"kind": "contractor", "state": "WA"}],
    }
    read: Any = verbs()["lend_crew"].arguments.model_validate_json(json.dumps(step))
    assert read.lead == LentPerson("Dee", "1", (LentCard("water_technician", "", date(2026, 5, 31)),))
    assert read.vehicle.capacity == (("lgr", 2),)
    assert {"lend_units", "end_loan"} <= verbs().keys()


def _client(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def test_the_page_and_the_interface_do_the_same(night: Night) -> None:
    base = night.cast.north.pk
    hours = {"starts_at": f"{NIGHT:%Y-%m-%dT%H:%M}", "ends_at": f"{UNTIL:%Y-%m-%dT%H:%M}"}
    zone = night.cast.area.zone
    local = {
        "starts_at": f"{NIGHT.astimezone(zone):%Y-%m-%dT%H:%M}",
        "ends_at": f"{UNTIL.astimezone(zone):%Y-%m-%dT%H:%M}",
    }
    whose = {"firm": FIRM, "agreed_with": "their night desk", "warehouse_id": base}
    crew = {
        **whose,
        **{name: f"{value}Z" for name, value in hours.items()},
        "name": "L1",
        "lead": {"name": "Dee", "phone": "360-555-0177", "cards": [{"kind": "water_technician"}]},
        "vehicle": {"name": "Van", "gvwr_lb": 9000, "payload_lb": 3000, "cargo_cuft": 300, "capacity": {"lgr": 2}},
        "licenses": [{"kind": "contractor", "state": "WA"}],
    }
    with time_machine.travel(NIGHT, tick=False):
        manager, desk = _client(night.cast.manager), _client(night.dispatcher)

        def write(client: Client, address: str, body: Any = None) -> Any:
            head = {"Idempotency-Key": str(uuid4())}
            return client.post(f"/api/v1/loans/{address}", body or {}, content_type="application/json", headers=head)

        assert write(desk, "crews", crew).status_code == 403
        made = write(manager, "crews", crew)
        assert made.status_code == 201, made.json()
        typed = {**whose, **local, "model_id": night.cast.mover.pk, "key": str(uuid4()), "do": "units"}
        assert manager.post("/manager/loans", {**typed, "units": "8001"}).status_code == 422
        assert manager.post("/manager/loans", {**typed, "units": "8001 F-77"}).status_code == 302
        said = manager.get("/manager/loans").content.decode()
        assert "(theirs F-77)" in said
        assert "May do water work in <strong>WA</strong>" in said
        job = night.cast.job()
        (line,) = [row for row in loans(area=night.cast.area, now=NIGHT).lines if row.units]
        pool = line.units[0].places[0].pool_id
        ask = {"do": "hold", "key": str(uuid4()), "loan": line.loan_id, "pool": pool, "count": "1", "job": job.number}
        again = manager.post("/manager/loans", {**ask, "job": "J-none"})
        assert (again.status_code, 'value="J-none"' in again.content.decode()) == (404, True)
        assert manager.post("/manager/loans", ask).status_code == 302
        end = {"do": "end", "key": str(uuid4()), "loan": line.loan_id}
        refused = manager.post("/manager/loans", end)
        assert (refused.status_code, "Release that hold first" in refused.content.decode()) == (409, True)
        assert write(manager, f"{made.json()['loan_id']}/end").json() == {
            "loan_id": made.json()["loan_id"],
            "numbers": [],
        }
        listed = manager.get(f"/api/v1/areas/{night.cast.area.code}/loans").json()["lines"]
        assert [row["firm"] for row in listed] == [FIRM]
        for address in ("/manager", "/manager/surge"):
            assert "Lent by other firms (not in our numbers)" in manager.get(address).content.decode()
        page = {
            **{name: value for name, value in crew.items() if name not in {"lead", "vehicle", "licenses"}},
            **local,
            "name": "L2",
            "licenses": "contractor WA 2026-05-31",
            "lead_name": "Eli",
            "lead_phone": "360-555-0178",
            "lead_cards": "water_technician soon",
            "vehicle": "Van",
            "gvwr_lb": 9000,
            "payload_lb": 3000,
            "cargo_cuft": 300,
            "air_movers": 10,
            "dehumidifiers": 2,
            "air_scrubbers": 0,
            "do": "crew",
            "key": str(uuid4()),
        }
        assert "is no state (WA) and no day" in manager.post("/manager/loans", page).content.decode()
        assert manager.post("/manager/loans", {**page, "lead_cards": "water_technician"}).status_code == 302
        assert "L2" in manager.get("/manager/surge").content.decode()
