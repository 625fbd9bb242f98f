"""The demo jobs: stages, rooms, readings and visits tell one story."""

import json
import re
from collections import Counter, defaultdict
from itertools import pairwise

from tests.demo_company.tables import FOLDER, MOMENT, keys, minutes, open_jobs, rows


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


def test_rooms_hold_no_more_water_than_they_have_surface() -> None:
    for room in rows("rooms"):
        length, width, height = (float(room[c]) for c in ("length_ft", "width_ft", "height_ft"))
        around = 2 * (length + width)
        assert 0 <= float(room["wet_floor_sqft"]) <= length * width
        assert 0 <= float(room["wet_ceiling_sqft"]) <= length * width
        assert 0 <= float(room["wet_lower_wall_sqft"]) <= around * 2
        assert 0 <= float(room["wet_upper_wall_sqft"]) <= around * (height - 2)
        assert float(room["wet_wood_floor_sqft"]) <= float(room["wet_floor_sqft"])


def test_every_open_job_has_a_visit_due() -> None:
    due = {visit["job"] for visit in rows("visits") if visit["state"] in {"due", "sent"}}
    assert due == {job["job"] for job in open_jobs()}


def test_the_emergency_call_is_a_six_room_clean_water_loss_tonight() -> None:
    call = json.loads((FOLDER / "call.json").read_text(encoding="utf-8"))
    assert MOMENT.match(call["at"])
    assert call["at"].startswith("0 2")
    assert call["answers"]["category"] == 1
    assert len(call["rooms"]) == 6
    assert call["answers"]["payer"] in keys("payers", "code")
    taken = {row["phone"] for name in ("areas", "people", "contacts") for row in rows(name)}
    assert re.fullmatch(r"\d{3}-555-01\d\d", call["answers"]["callback_number"])
    assert call["answers"]["callback_number"] not in taken
