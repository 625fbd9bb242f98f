"""The demo company's files agree with one another, with the map and with the sizes the program is tested at."""

import csv
import json
import re
from collections import Counter, defaultdict
from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest
import zipcodes

FOLDER = Path(__file__).parent.parent / "fixtures_demo"
# Generous boxes round southern Washington and northern Oregon: (south, north, west, east).
BOXES = {"WA": (45.55, 46.6, -124.1, -120.5), "OR": (44.6, 46.25, -124.1, -120.5)}
MOMENT = re.compile(r"^(0|[+-]\d{1,3}) ([01]\d|2[0-3]):[0-5]\d$|^now[+-]\d{1,3}m$")
CLOCK = re.compile(r"^([01]\d|2[0-3]):[0-5]\d$")


@cache
def rows(name: str) -> tuple[dict[str, str], ...]:
    with (FOLDER / f"{name}.csv").open(newline="", encoding="utf-8") as handle:
        return tuple(csv.DictReader(handle))


def keys(name: str, column: str) -> set[str]:
    found = [row[column] for row in rows(name)]
    assert len(found) == len(set(found)), f"{name}.csv repeats a {column}"
    return set(found)


def minutes(moment: str) -> int:
    """Minutes from the loading day's local midnight; the demo's days are 1,440 minutes long."""
    day, clock = moment.split(" ")
    hours, rest = clock.split(":")
    return int(day) * 1440 + int(hours) * 60 + int(rest)


def open_jobs() -> list[dict[str, str]]:
    return [job for job in rows("jobs") if job["stage"] != "finished"]


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
    assert 1650 <= len(keys("units", "unit")) <= 1750
    assert len(keys("equipment_models", "code")) >= 12
    assert 45 <= len(open_jobs()) <= 60
    assert sum(job["stage"] == "finished" for job in rows("jobs")) == 3
    assert 6 <= len(keys("payers", "code")) <= 8


def test_every_kind_of_equipment_is_owned() -> None:
    kinds = Counter(row["kind"] for row in rows("equipment_models"))
    assert kinds["air_mover"] == 2
    assert kinds["lgr"] == 3
    assert kinds["air_scrubber"] == 2
    single = {"conventional", "desiccant", "cavity_kit", "floor_mat_kit", "heater", "generator"}
    assert single == {kind for kind, count in kinds.items() if count == 1}
    assert {row["model"] for row in rows("units")} == keys("equipment_models", "code")


def test_models_have_what_the_sizing_needs() -> None:
    needed = {
        "lgr": "rated_pints_per_day",
        "conventional": "rated_pints_per_day",
        "desiccant": "process_cfm",
        "air_mover": "airflow_cfm",
        "air_scrubber": "airflow_cfm",
        "cavity_kit": "outlets",
        "floor_mat_kit": "covers_sqft",
        "heater": "running_a",
        "generator": "supplies_a",
    }
    for model in rows("equipment_models"):
        assert float(model[needed[model["kind"]]]) > 0, model["code"]
        assert float(model["weight_lb"]) > 0
        assert float(model["volume_cuft"]) > 0


def test_unit_numbers_have_four_digits() -> None:
    assert all(re.fullmatch(r"\d{4}", number) for number in keys("units", "unit"))


def test_each_unit_is_in_exactly_one_place() -> None:
    places = {
        "warehouse": keys("warehouses", "code"),
        "vehicle": keys("vehicles", "code"),
        "job": keys("jobs", "job"),
        "not found": {""},
    }
    for unit in rows("units"):
        if unit["holder"] == "repair":
            assert unit["place"]
        else:
            assert unit["place"] in places[unit["holder"]], unit
        assert bool(unit["room"]) == (unit["holder"] == "job"), unit
        assert MOMENT.match(unit["since"]), unit


def test_units_at_jobs_are_exactly_the_placements_that_have_not_ended() -> None:
    rooms = {(row["job"], row["room"]) for row in rows("rooms")}
    standing = {}
    for placed in rows("placements"):
        in_a_room = (placed["job"], placed["room"]) in rooms
        assert in_a_room or placed["room"].startswith("outside"), placed
        assert placed["vehicle"] in keys("vehicles", "code")
        if placed["removed_at"]:
            assert minutes(placed["placed_at"]) < minutes(placed["removed_at"]) < 0, placed
        else:
            assert placed["unit"] not in standing, placed
            standing[placed["unit"]] = (placed["job"], placed["room"], placed["placed_at"])
    at_jobs = {u["unit"]: (u["place"], u["room"], u["since"]) for u in rows("units") if u["holder"] == "job"}
    assert at_jobs == standing
    assert all(minutes(since) < 0 for _, _, since in standing.values())


def test_about_two_in_five_units_work_at_a_job() -> None:
    share = sum(unit["holder"] == "job" for unit in rows("units")) / len(rows("units"))
    assert 0.35 <= share <= 0.45


def test_big_jobs_have_a_dozen_air_movers_and_more() -> None:
    kind = {model["code"]: model["kind"] for model in rows("equipment_models")}
    movers = Counter(u["place"] for u in rows("units") if u["holder"] == "job" and kind[u["model"]] == "air_mover")
    assert sum(count >= 12 for count in movers.values()) >= 8


def test_the_vehicle_in_the_workshop_holds_its_stock() -> None:
    (out,) = [vehicle for vehicle in rows("vehicles") if vehicle["in_workshop"] == "yes"]
    aboard = Counter(u["model"] for u in rows("units") if u["holder"] == "vehicle" and u["place"] == out["code"])
    standing = {r["model"]: int(r["count"]) for r in rows("standing_stock") if r["vehicle_kind"] == out["kind"]}
    assert aboard == standing
    assert out["code"] not in {crew["vehicle"] for crew in rows("crews")}


def test_no_vehicle_is_overloaded() -> None:
    models = {row["code"]: row for row in rows("equipment_models")}
    share = {row["code"]: float(row["usable_share"]) for row in rows("vehicle_kinds")}
    load = defaultdict(lambda: [0.0, 0.0])
    for unit in rows("units"):
        if unit["holder"] == "vehicle":
            load[unit["place"]][0] += float(models[unit["model"]]["weight_lb"])
            load[unit["place"]][1] += float(models[unit["model"]]["volume_cuft"])
    for vehicle in rows("vehicles"):
        weight_lb, volume_cuft = load[vehicle["code"]]
        assert weight_lb <= float(vehicle["payload_lb"])
        assert volume_cuft <= float(vehicle["cargo_cuft"]) * share[vehicle["kind"]], vehicle["code"]


def test_some_vehicles_need_a_driver_with_a_medical_card() -> None:
    heavy = [v for v in rows("vehicles") if max(int(v["gvwr_lb"]), int(v["gcwr_lb"] or 0)) >= 10_001]
    assert 10 <= len(heavy) <= 20


def test_rented_units_have_numbers_of_their_own_and_a_daily_cost() -> None:
    rented = [unit for unit in rows("units") if unit["owned"] == "rented"]
    assert 3 <= len(rented) <= 12
    for unit in rented:
        assert unit["unit"].startswith("9")
        assert unit["supplier"].endswith("(demo)")
        assert unit["supplier_number"]
        assert float(unit["daily_cost_usd"]) > 0


def test_units_from_sewage_wait_to_be_cleaned() -> None:
    waiting = [u for u in rows("units") if u["condition"] == "not yet cleaned"]
    assert any(unit["last_category"] == "3" for unit in waiting)
    assert all(u["condition"] != "ready" for u in rows("units") if u["last_category"] == "3")


def test_one_finished_job_still_has_a_unit_listed() -> None:
    finished = {job["job"] for job in rows("jobs") if job["stage"] == "finished"}
    left = [unit for unit in rows("units") if unit["holder"] == "job" and unit["place"] in finished]
    assert len(left) == 1
    assert all(job["finished_at"] for job in rows("jobs") if job["job"] in finished)


def test_every_stage_is_there_and_drying_runs_from_the_first_day_to_the_sixth() -> None:
    stages = Counter(job["stage"] for job in rows("jobs"))
    assert set(stages) == {
        "sent",
        "first_visit_done",
        "drying",
        "at_goal",
        "waiting_authorization",
        "finished",
    }
    begun = {}
    for placed in rows("placements"):
        day = minutes(placed["placed_at"]) // 1440
        begun[placed["job"]] = min(day, begun.get(placed["job"], 0))
    drying = {-begun[job["job"]] for job in rows("jobs") if job["stage"] == "drying"}
    assert {1, 2, 3, 4, 5, 6} <= drying


def test_dirty_water_is_rare_but_there() -> None:
    categories = Counter(job["category"] for job in open_jobs())
    assert 2 <= categories["3"] <= 4
    assert categories["2"] >= 3


def test_readings_say_what_the_stage_says() -> None:
    goal = {(row["job"], row["point"]): float(row["goal"]) for row in rows("material_points")}
    last: dict[tuple[str, str], tuple[int, float]] = {}
    for row in rows("material_readings"):
        at = minutes(row["at"])
        key = (row["job"], row["point"])
        if at < 0 and at > last.get(key, (-99999, 0))[0]:
            last[key] = (at, float(row["reading"]))
    wet = Counter(job for (job, point), (_, reading) in last.items() if reading > goal[job, point])
    for job in rows("jobs"):
        if job["stage"] in {"drying", "first_visit_done"}:
            assert wet[job["job"]] >= 1, job["job"]
        if job["stage"] in {"at_goal", "finished"}:
            assert wet[job["job"]] == 0, job["job"]


def test_materials_dry_and_never_get_much_wetter() -> None:
    series = defaultdict(list)
    for row in rows("material_readings"):
        series[row["job"], row["point"]].append((minutes(row["at"]), float(row["reading"])))
    assert len(series) == len(rows("material_points"))
    for key, found in series.items():
        found.sort()
        values = [value for _, value in found]
        assert all(later <= earlier + 1 for earlier, later in pairwise(values)), key


def test_air_is_possible_and_dries() -> None:
    inside = defaultdict(list)
    for row in rows("air_readings"):
        assert 33 <= float(row["dry_bulb_f"]) <= 120
        assert 1 <= float(row["rh_pct"]) <= 100
        assert row["where"] in {"inside", "outside", "unaffected", "dehumidifier outlet"}
        assert bool(row["unit"]) == (row["where"] == "dehumidifier outlet")
        if row["where"] == "inside":
            inside[row["job"], row["chamber"]].append((minutes(row["at"]), float(row["rh_pct"])))
    assert all(sorted(found)[0][1] >= sorted(found)[-1][1] for found in inside.values())


def test_hour_meters_only_count_up() -> None:
    hours = defaultdict(list)
    for row in rows("meter_readings"):
        hours[row["unit"], row["job"]].append((minutes(row["at"]), float(row["hours"])))
    for key, found in hours.items():
        values = [value for _, value in sorted(found)]
        assert values == sorted(values), key


def test_rooms_hold_no_more_water_than_they_have_surface() -> None:
    for room in rows("rooms"):
        length, width, height = (float(room[c]) for c in ("length_ft", "width_ft", "height_ft"))
        around = 2 * (length + width)
        assert 0 <= float(room["wet_floor_sqft"]) <= length * width
        assert 0 <= float(room["wet_ceiling_sqft"]) <= length * width
        assert 0 <= float(room["wet_lower_wall_sqft"]) <= around * 2
        assert 0 <= float(room["wet_upper_wall_sqft"]) <= around * (height - 2)
        assert float(room["wet_wood_floor_sqft"]) <= float(room["wet_floor_sqft"])


@pytest.mark.parametrize("name", ["jobs", "warehouses"])
def test_places_are_real(name: str) -> None:
    for row in rows(name):
        south, north, west, east = BOXES[row["state"]]
        assert south <= float(row["lat"]) <= north, row
        assert west <= float(row["lon"]) <= east, row
        (found,) = zipcodes.matching(row["zip"])
        assert found["city"].lower() == row["town"].lower()
        assert (found["state"], found["county"]) == (row["state"], row["county"])
        assert abs(float(found["lat"]) - float(row["lat"])) < 0.02
        assert abs(float(found["long"]) - float(row["lon"])) < 0.02


def test_both_states_are_served() -> None:
    states = Counter(job["state"] for job in open_jobs())
    assert min(states["OR"], states["WA"]) >= 10


def test_phones_are_fictional_and_each_rings_one_person() -> None:
    phones = [row["phone"] for name in ("people", "contacts", "warehouses") for row in rows(name)]
    assert all(re.fullmatch(r"(360|503|509|541|564|971)-555-01\d\d", phone) for phone in phones)
    assert len(phones) == len(set(phones))


def test_days_and_times_are_relative_to_the_loading_day() -> None:
    for path in FOLDER.glob("*.csv"):
        for row in rows(path.stem):
            for column, cell in row.items():
                if cell and (column == "day" or column.endswith("_day")) and not cell.startswith("now"):
                    assert re.fullmatch(r"0|[+-]\d{1,4}", cell) or column == "rated_pints_per_day", (path.name, row)
                if cell and column.endswith("_at") and column != "at":
                    assert MOMENT.match(cell), (path.name, column, cell)
                if cell and column in {"from", "until", "at_latest", "opens", "closes", "arrived", "left"}:
                    assert CLOCK.match(cell), (path.name, column, cell)


def test_references_resolve() -> None:
    users, vehicles = keys("people", "user_name"), keys("vehicles", "code")
    warehouses, jobs, models = keys("warehouses", "code"), keys("jobs", "job"), keys("equipment_models", "code")
    card_kinds = keys("card_kinds", "code")
    for row in rows("people") + rows("vehicles") + rows("jobs"):
        assert row["warehouse"] in warehouses
    for name in ("cards", "shifts", "on_call", "call_out_order"):
        assert all(row["user_name"] in users for row in rows(name))
    assert all(row["kind"] in card_kinds for row in rows("cards"))
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
    held = {c["user_name"] for c in rows("cards") if c["kind"] == "driver_medical" and int(c["expires_day"]) > 1}
    for crew in rows("crews"):
        if crew["vehicle"] in heavy:
            assert {crew["lead"], crew["helper"]} & held, crew["code"]


def test_cards_lapse_at_every_distance() -> None:
    left = [int(card["expires_day"]) for card in rows("cards")]
    assert sum(days < 0 for days in left) >= 5
    assert sum(0 <= days <= 7 for days in left) >= 3
    assert sum(7 < days <= 30 for days in left) >= 3
    assert sum(30 < days <= 60 for days in left) >= 3
    assert sum(days > 60 for days in left) > 200


def test_four_sign_ins_one_for_each_room() -> None:
    demo = [person["role"] for person in rows("people") if person["demo_sign_in"] == "yes"]
    assert sorted(demo) == ["crew_lead", "dispatcher", "manager", "warehouse"]


def test_every_open_job_has_a_visit_due() -> None:
    due = {visit["job"] for visit in rows("visits") if visit["state"] in {"due", "sent"}}
    assert due == {job["job"] for job in open_jobs()}


def test_payers_differ_in_how_they_count_days() -> None:
    assert {p["day_count"] for p in rows("payers")} == {"completed_24h", "started_24h", "calendar_days"}
    assert {p["count_by"] for p in rows("payers")} == {"whole_job", "room_by_room"}
    assert all(payer["source"] == "demo" for payer in rows("payers"))


def test_state_rules_name_their_source_and_ask_to_be_confirmed() -> None:
    for rule in rows("state_rules"):
        assert rule["source"]
        assert rule["confidence"] in {"published", "practice", "memory"}
        assert rule["note"].startswith("demo: confirm with the state")
    assert {rule["state"] for rule in rows("state_rules")} == {"OR", "WA", "US"}


def test_some_stock_is_below_its_minimum() -> None:
    short = [row for row in rows("accessory_stock") if int(row["on_hand"]) < int(row["minimum"])]
    assert {row["holder"] for row in short} == {"warehouse", "vehicle"}


def test_the_emergency_call_is_a_six_room_clean_water_loss_tonight() -> None:
    call = json.loads((FOLDER / "call.json").read_text(encoding="utf-8"))
    assert call["called_at"].startswith("0 2")
    assert call["category"] == 1
    assert sum(len(chamber["rooms"]) for chamber in call["chambers"]) == 6
    assert call["payer"] in keys("payers", "code")
    taken = {row["phone"] for name in ("people", "contacts", "warehouses") for row in rows(name)}
    assert re.fullmatch(r"\d{3}-555-01\d\d", call["caller"]["phone"])
    assert call["caller"]["phone"] not in taken
