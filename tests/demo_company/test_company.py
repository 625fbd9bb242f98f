"""People, places, cards, shifts and rules of the demo company agree with one another and with the map."""

import csv
import re
from collections import Counter, defaultdict

import pytest
import zipcodes

from tests.demo_company.tables import CLOCK, FOLDER, MOMENT, keys, open_jobs, rows

# Generous boxes round southern Washington and northern Oregon: (south, north, west, east).
BOXES = {"WA": (45.55, 46.6, -124.1, -120.5), "OR": (44.6, 46.25, -124.1, -120.5)}


def test_every_file_is_rectangular_and_clean() -> None:
    for path in sorted(FOLDER.glob("*.csv")):
        with path.open(newline="", encoding="utf-8") as handle:
            table = list(csv.reader(handle))
        assert table, path.name
        assert len(set(table[0])) == len(table[0]), path.name
        for number, row in enumerate(table, 1):
            assert len(row) == len(table[0]), f"{path.name} line {number}"
            assert all(cell == cell.strip() for cell in row), f"{path.name} line {number}"


def test_the_sizes_are_those_of_a_working_company() -> None:
    assert len(keys("warehouses", "code")) == 4
    assert len(keys("vehicles", "code")) == 40
    assert len({row["kind"] for row in rows("vehicles")}) >= 4
    assert 65 <= len(keys("people", "user_name")) <= 75
    assert 1650 <= len(keys("units", "number")) <= 1750
    assert len(keys("equipment_models", "code")) >= 12
    assert 45 <= len(open_jobs()) <= 60
    assert sum(job["stage"] == "finished" for job in rows("jobs")) == 3
    assert 6 <= len(keys("payers", "code")) <= 8


@pytest.mark.parametrize("name", ["jobs", "warehouses"])
def test_places_are_real(name: str) -> None:
    for row in rows(name):
        south, north, west, east = BOXES[row["state"]]
        assert south <= float(row["lat"]) <= north, row
        assert west <= float(row["lon"]) <= east, row
        (found,) = zipcodes.matching(row["zip"])
        assert found["city"].lower() == row["town"].lower()
        assert (found["state"], found["county"]) == (row["state"], row.get("county", found["county"]))
        assert abs(float(found["lat"]) - float(row["lat"])) < 0.02
        assert abs(float(found["long"]) - float(row["lon"])) < 0.02


def test_both_states_are_served() -> None:
    states = Counter(job["state"] for job in open_jobs())
    assert min(states["OR"], states["WA"]) >= 10


def test_phones_are_fictional_and_each_rings_one_person() -> None:
    phones = [row["phone"] for name in ("areas", "people", "contacts") for row in rows(name)]
    assert all(re.fullmatch(r"(360|503|509|541|564|971)-555-01\d\d", phone) for phone in phones)
    assert len(phones) == len(set(phones))


def test_days_and_times_are_relative_to_the_loading_day() -> None:
    for path in FOLDER.glob("*.csv"):
        for row in rows(path.stem):
            for column, cell in row.items():
                if cell and (column == "day" or column.endswith("_on") or column.startswith("valid_")):
                    assert re.fullmatch(r"0|[+-]\d{1,4}", cell), (path.name, row)
                if cell and column.endswith("_at") and column != "at":
                    assert MOMENT.match(cell), (path.name, column, cell)
                if cell and column in {"from", "until", "at_latest", "arrived", "left"}:
                    assert CLOCK.match(cell), (path.name, column, cell)


def test_references_resolve() -> None:
    users, vehicles = keys("people", "user_name"), keys("vehicles", "code")
    warehouses, jobs, models = keys("warehouses", "code"), keys("jobs", "job"), keys("equipment_models", "code")
    for row in rows("people") + rows("vehicles") + rows("jobs"):
        assert row["warehouse"] in warehouses
    for name in ("cards", "shifts", "call_out_order", "demo_sign_ins"):
        assert all(row["user_name"] in users for row in rows(name))
    assert all(row["lead"] in users | {""} for row in rows("visits"))
    assert all(row["payer"] in keys("payers", "code") for row in rows("jobs"))
    assert all(row["model"] in models for row in rows("units") + rows("standing_stock"))
    assert all(row["kind"] in keys("vehicle_kinds", "code") for row in rows("vehicles"))
    accessories = keys("accessories", "code")
    for row in rows("accessory_stock"):
        assert row["accessory"] in accessories
        assert row["place"] in (warehouses if row["holder"] == "warehouse" else vehicles)
    for name in ("contacts", "rooms", "room_materials", "wall_runs", "visits", "air_readings", "material_points"):
        assert all(row["job"] in jobs for row in rows(name))
    rooms = {(row["job"], row["room"]) for row in rows("rooms")}
    for name in ("room_materials", "wall_runs", "material_points"):
        assert all((row["job"], row["room"]) in rooms for row in rows(name))
    visits = {(row["job"], row["visit"]) for row in rows("visits")}
    assert len(visits) == len(rows("visits"))
    for name in ("air_readings", "material_readings", "meter_readings"):
        assert all((row["job"], row["visit"]) in visits for row in rows(name))


def test_crews_use_each_person_and_vehicle_once_a_turn() -> None:
    role = {person["user_name"]: person["role"] for person in rows("people")}
    turns = defaultdict(list)
    for crew in rows("crews"):
        assert role[crew["lead"]] == "crew_lead"
        assert crew["helper"] == "" or role[crew["helper"]] == "technician"
        turns[crew["day"], crew["kind"]] += [crew["lead"], crew["helper"], crew["vehicle"]]
    for turn, names in turns.items():
        named = [name for name in names if name]
        assert len(named) == len(set(named)), turn
    counts = Counter((crew["day"], crew["kind"]) for crew in rows("crews"))
    assert 24 <= counts["+1", "day"] <= 30
    assert counts["0", "night"] >= 3


def test_nobody_works_the_morning_after_a_night() -> None:
    nights = {(int(s["day"]), s["user_name"]) for s in rows("shifts") if s["kind"] == "night"}
    days = {(int(s["day"]), s["user_name"]) for s in rows("shifts") if s["kind"] == "day"}
    assert nights
    assert not {(day + 1, user) for day, user in nights} & days
    assert not nights & days


def test_heavy_vehicles_are_planned_with_a_driver_who_may_drive_them() -> None:
    heavy = {v["code"] for v in rows("vehicles") if max(int(v["gvwr_lb"]), int(v["gcwr_lb"] or 0)) >= 10_001}
    held = {c["user_name"] for c in rows("cards") if c["kind"] == "driver_medical" and int(c["expires_on"]) > 1}
    for crew in rows("crews"):
        if crew["vehicle"] in heavy:
            assert {crew["lead"], crew["helper"]} & held, crew["code"]


def test_cards_lapse_at_every_distance() -> None:
    left = [int(card["expires_on"]) for card in rows("cards")]
    assert sum(days < 0 for days in left) >= 5
    assert sum(0 <= days <= 7 for days in left) >= 3
    assert sum(7 < days <= 30 for days in left) >= 3
    assert sum(30 < days <= 60 for days in left) >= 3
    assert sum(days > 60 for days in left) > 200


def test_four_sign_ins_one_for_each_room() -> None:
    role = {person["user_name"]: person["role"] for person in rows("people")}
    assert sorted(row["role"] for row in rows("demo_sign_ins")) == ["crew_lead", "dispatcher", "manager", "warehouse"]
    assert all(role[row["user_name"]] == row["role"] for row in rows("demo_sign_ins"))


def test_payers_differ_in_how_they_count_days() -> None:
    assert {p["day_count"] for p in rows("payers")} == {"completed_24h", "started_24h", "calendar_days"}
    assert {p["count_by"] for p in rows("payers")} == {"whole_job", "room_by_room"}
    assert all(payer["source"] == "demo" for payer in rows("payers"))


def test_state_rules_name_their_source_and_ask_to_be_confirmed() -> None:
    for rule in rows("state_rules"):
        assert rule["source"]
        assert rule["confidence"] in {"published", "practice", "memory", "demo"}
        assert rule["note"].startswith("demo: confirm with the state")
    assert {rule["state"] for rule in rows("state_rules")} == {"OR", "WA", "US"}
