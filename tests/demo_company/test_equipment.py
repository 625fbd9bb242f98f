"""Every unit of the demo company is in one place, and what stands at jobs balances with what is owned."""

import re
from collections import Counter, defaultdict

from tests.demo_company.tables import keys, minutes, rows


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
        "generator": "weight_lb",
    }
    for model in rows("equipment_models"):
        assert float(model[needed[model["kind"]]]) > 0, model["code"]
        assert float(model["weight_lb"]) > 0
        assert float(model["volume_cuft"]) > 0


def test_unit_numbers_have_four_digits() -> None:
    assert all(re.fullmatch(r"\d{4}", number) for number in keys("units", "number"))


def standing() -> dict[str, dict[str, str]]:
    """The placements that have not ended, by unit number."""
    return {placed["unit"]: placed for placed in rows("placements") if not placed["removed_at"]}


def test_each_unit_opens_in_exactly_one_place() -> None:
    places = {
        "warehouse": keys("warehouses", "code"),
        "vehicle": keys("vehicles", "code"),
        "repair": keys("warehouses", "code"),
        "not_found": keys("warehouses", "code"),
    }
    for unit in rows("units"):
        assert unit["place"] in places[unit["holder"]], unit
        assert (unit["condition"] == "broken") == (unit["holder"] == "repair"), unit


def test_placements_are_whole_stays_of_units_that_were_free() -> None:
    holders = {unit["number"]: unit["holder"] for unit in rows("units")}
    rooms = {(row["job"], row["room"]) for row in rows("rooms")}
    seen = Counter(placed["unit"] for placed in rows("placements"))
    assert max(seen.values()) == 1
    for placed in rows("placements"):
        assert holders[placed["unit"]] == "warehouse", placed
        in_a_room = (placed["job"], placed["room"]) in rooms
        assert in_a_room or placed["room"].startswith("outside"), placed
        assert placed["vehicle"] in keys("vehicles", "code")
        assert minutes(placed["placed_at"]) < 0
        if placed["removed_at"]:
            assert minutes(placed["placed_at"]) < minutes(placed["removed_at"]) < 0, placed
            assert placed["back_to"] in keys("warehouses", "code")


def test_about_two_in_five_units_work_at_a_job() -> None:
    share = len(standing()) / len(rows("units"))
    assert 0.35 <= share <= 0.45


def test_big_jobs_have_a_dozen_air_movers_and_more() -> None:
    kind = {model["code"]: model["kind"] for model in rows("equipment_models")}
    model = {unit["number"]: unit["model"] for unit in rows("units")}
    movers = Counter(at["job"] for number, at in standing().items() if kind[model[number]] == "air_mover")
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
    rented = [unit for unit in rows("units") if unit["rented"] == "yes"]
    assert 3 <= len(rented) <= 12
    for unit in rented:
        assert unit["number"].startswith("9")
        assert unit["supplier"].endswith("(demo)")
        assert unit["supplier_number"]
        assert float(unit["daily_cost_usd"]) > 0


def test_units_from_sewage_are_held_back() -> None:
    held = [unit for unit in rows("units") if unit["condition"] == "held_back"]
    assert held
    assert all(unit["water_category"] == "3" for unit in held)
    assert not [u for u in rows("units") if u["condition"] == "ready" and u["water_category"]]


def test_one_finished_job_still_has_a_unit_listed() -> None:
    finished = {job["job"] for job in rows("jobs") if job["stage"] == "finished"}
    left = [at for at in standing().values() if at["job"] in finished]
    assert len(left) == 1
    assert all(job["finished_at"] for job in rows("jobs") if job["job"] in finished)


def test_some_stock_is_below_its_minimum() -> None:
    short = [row for row in rows("accessory_stock") if int(row["on_hand"]) < int(row["minimum"])]
    assert {row["holder"] for row in short} == {"warehouse", "vehicle"}


def test_hour_meters_only_count_up() -> None:
    hours = defaultdict(list)
    for row in rows("meter_readings"):
        hours[row["unit"], row["job"]].append((minutes(row["at"]), float(row["hours"])))
    for key, found in hours.items():
        values = [value for _, value in sorted(found)]
        assert values == sorted(values), key
