"""What a rehearsal is set in: the shapes of demand, the company's own numbers, and each loss as the sizing sees it."""

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from dispatch import eligibility
from dispatch.outfit import counts_by_kind
from dispatch.rehearsal.sim.demand import Demand, Event, Timing, Town, Variant
from dispatch.rehearsal.sim.facts import Figures
from dispatch.rules import figure
from equipment.sizing.port import size_document
from jobs import places
from jobs.refusals import Refusal

HOUR_S = 3600
# Feet of the rooms of a loss, used in turn.
ROOMS_FT = ((12, 14), (10, 12), (14, 16), (8, 10), (12, 18))
HEIGHT_FT = 8
STATES = ("OR", "WA")


class SettingUnusable(Refusal):
    """The numbers of a rehearsal cannot be meant; nothing was rehearsed."""

    code = "rehearsal_unusable"
    status = 422


@dataclass(frozen=True)
class Setting:
    """Both files, read: `trade` holds shapes for any company, `own` the company's numbers."""

    trade: Mapping[str, Any]
    own: Mapping[str, Any]

    @property
    def fleets(self) -> Mapping[str, Mapping[str, Any]]:
        """The fleets that can be tried, by name."""
        return self.own.get("fleets", {})


@cache
def trade() -> Mapping[str, Any]:
    """The shapes of demand that ship with the program (`demand.toml`)."""
    return tomllib.loads(files("dispatch.rehearsal").joinpath("demand.toml").read_text(encoding="utf-8"))


def read_setting(company: Path) -> Setting:
    """
    The numbers of the company in a folder.

    :raises SettingUnusable: if the folder has none, or a table has no source.
    """
    path = company / "rehearsal.toml"
    try:
        own = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise SettingUnusable(
            f"{path} cannot be read ({error.strerror}). Name a company's folder that has one.", where="--company"
        ) from error
    except ValueError as error:
        raise SettingUnusable(f"{path.name} is no TOML that can be read: {error}.", where="--company") from error
    missing = [key for key in ("calls_a_month", "towns", "payers", "source") if not own.get(key)]
    missing += [f"fleets.{name}.source" for name, row in own.get("fleets", {}).items() if not row.get("source")]
    if missing:
        raise SettingUnusable(f"{path.name} does not say {', '.join(missing)}.", where="--company")
    return Setting(trade(), own)


def figures_of(setting: Setting, *, iterations: int) -> Figures:
    """The company's figures as the rehearsed world needs them; prices and hours are those of the rule files."""
    work = setting.trade["work"]
    return Figures(
        break_s=figure("break_seconds"),
        break_from_s=figure("break_from_hours") * HOUR_S,
        break_until_s=figure("break_until_hours") * HOUR_S,
        rest_s=figure("rest_hours") * HOUR_S,
        clean_s=work["clean_hours"] * HOUR_S,
        visits_from_s=work["visits_from_hour"] * HOUR_S,
        visits_until_s=work["visits_until_hour"] * HOUR_S,
        too_far_s=figure("too_far_minutes") * 60,
        slow_share=setting.trade["drying"]["slow_share"],
        prices={name: figure(name) for name in ("per_meter", "per_driving_second", "per_overtime_second")},
        crew_out=figure("crew_out"),
        per_late_second=figure("per_late_second"),
        per_moved_second=figure("per_moved_second"),
        left_out=figure("left_out"),
        plan_iterations=iterations,
    )


def demand_of(
    setting: Setting, *, catalogue: Sequence[Mapping[str, Any]], arrival_minutes: Mapping[str, int | None]
) -> Demand:
    """
    The demand of a company.

    :param catalogue: its models in the sizing's words, with as many free as any loss could want.
    :param arrival_minutes: each payer's own clock for the arrival.
    """
    shapes, own = setting.trade, setting.own
    timing = shapes["timing"]
    usual = timing["payer_promise_minutes"]
    return Demand(
        calls_a_month=own["calls_a_month"],
        hours=tuple(shapes["hours"]["weights"]),
        months=tuple(shapes["months"]["weights"]),
        weekdays=tuple(shapes["weekdays"]["weights"]),
        losses={name: row["share"] for name, row in shapes["losses"].items()},
        variants={name: _variants(name, row, catalogue) for name, row in shapes["losses"].items()},
        towns=tuple(Town(**{key: town[key] for key in Town.__dataclass_fields__}) for town in own["towns"]),
        payers={code: (weight, (arrival_minutes.get(code) or usual) * 60) for code, weight in own["payers"].items()},
        timing=Timing(
            urgent_share=timing["urgent_share"],
            morning_s=timing["morning_hour"] * HOUR_S,
            morning_due_s=timing["morning_due_hour"] * HOUR_S,
            first_spread=timing["first_visit_spread"],
            visit_spread=timing["visit_spread"],
        ),
        events={
            name: Event(
                name,
                tuple(row["days"]),
                row["losses"],
                tuple(row["hours"]),
                frozenset(row["months"]),
                row["a_year"],
            )
            for name, row in shapes["events"].items()
        },
        state_at=_state_at,
    )


def _state_at(lat: float, lon: float) -> str:
    """The state that the desk would see for these coordinates."""
    place = places.find(point=(lat, lon)).place
    return "" if place is None else place.state


def loss_document(name: str, rooms: int, catalogue: Sequence[Mapping[str, Any]] | None = None) -> dict[str, Any]:
    """A loss of this kind with so many wet rooms, in the sizing port's words."""
    row = trade()["losses"][name]
    return {
        "format": 1,
        "rules": None,
        "category": row["category"],
        "loss_source": row["loss_source"],
        "emergency": True,
        "hours_wet": None,
        "year_built": 1996,
        "dwelling_units": 1,
        "mould_sqft": 0,
        "elevation_ft": 0,
        "generator_distance_ft": None,
        "circuits": [],
        "catalogue": None if catalogue is None else [dict(model) for model in catalogue],
        "also": [],
        "chambers": [
            {
                "name": "ground floor",
                "class": None,
                "dehumidifier": "lgr",
                "bound_water": False,
                "crawl_space": False,
                "air": None,
                "rooms": [_room(row, number) for number in range(rooms)],
            }
        ],
    }


def _room(row: Mapping[str, Any], number: int) -> dict[str, Any]:
    length_ft, width_ft = ROOMS_FT[number % len(ROOMS_FT)]
    floor_sqft = length_ft * width_ft
    wet_floor_sqft = round(floor_sqft * row["wet_share"])
    return {
        "name": f"room {number + 1}",
        "count": 1,
        "length_ft": length_ft,
        "width_ft": width_ft,
        "floor_sqft": None,
        "height_ft": HEIGHT_FT,
        "wet_floor_sqft": wet_floor_sqft,
        "wet_lower_wall_sqft": round(2 * 2 * (length_ft + width_ft) * row["lower_wall_share"]),
        "wet_upper_wall_sqft": 0,
        "wet_ceiling_sqft": 0,
        "lower_wall_only_ft": 0,
        "painted_sqft_disturbed": 0,
        "offsets_over_18in": 0,
        "materials": [{"material": word, "area_sqft": wet_floor_sqft, "covering": "none"} for word in row["materials"]],
        "wall_runs": [],
        "wet_wood_floor_sqft": 0,
    }


def _variants(name: str, row: Mapping[str, Any], catalogue: Sequence[Mapping[str, Any]]) -> tuple[Variant, ...]:
    found = []
    for rooms, weight in enumerate(row["rooms"], start=1):
        if not weight:
            continue
        report = size_document(loss_document(name, rooms, catalogue)).as_document()
        need = counts_by_kind(report)
        days = report["chambers"][0]["drying_days"]
        units = sum(need.values())
        skills = {
            state: tuple(
                eligibility.skills_wanted(
                    category=row["category"],
                    drying_class=report["chambers"][0]["class"],
                    mold=False,
                    paint=False,
                    state=state,
                )
            )
            for state in STATES
        }
        found.append(
            Variant(
                loss=name,
                rooms=rooms,
                weight=weight,
                need=need,
                usual_days=(days["low"], days["likely"], days["high"]),
                skills=skills,
                first_s=figure("first_visit_seconds") + figure("first_visit_seconds_a_room") * max(0, rooms - 2),
                visit_s=figure("visit_seconds") + figure("monitoring_seconds_a_unit") * units,
            )
        )
    return tuple(found)
