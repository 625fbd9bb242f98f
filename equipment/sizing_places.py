"""The places of a sizing report, such as `chambers[0].rooms[1].air_movers.low`, in words."""

import re

from equipment.sizing.report import Report

STEP = re.compile(r"([a-z_]+)(?:\[(\d+)\])?")
# A model's name may hold any letter, so that nothing after it is a step.
OF_A_MODEL = re.compile(r"^(.*\b(?:units|unplaced))\.(.+)$")

# Endings of the port's keys that carry their unit, and the figures that are counted.
UNITS = (
    ("pints_per_day", "pints/day"),
    ("changes_per_hour", "changes/hour"),
    ("_sqft", "sq ft"),
    ("_cuft", "cu ft"),
    ("_inhg", "in Hg"),
    ("cfm", "cfm"),
    ("gpp", "grains/lb"),
    ("_ft", "ft"),
    ("_f", "°F"),
    ("_a", "A"),
)
COUNTED = {"outlets": "outlets", "kits": "kits", "count": "units"}
WORDS = {
    "volume_cuft": "volume",
    "surface_sqft": "surface",
    "wet_sqft": "wet area",
    "wet_share": "wet share",
    "gpp": "moisture in the air",
    "dew_point_f": "dew point",
    "vapor_pressure_inhg": "vapor pressure",
    "pints_per_day": "rated capacity",
    "process_cfm": "process air",
    "factor": "factor",
    "derated_pints_per_day": "real output in this air",
    "cfm": "airflow",
    "changes_per_hour": "air changes",
    "total_a": "total",
    "limit_a": "limit",
    "used_a": "load",
    "mould_sqft": "mold",
    "wall_runs": "wall run",
    "runs": "run",
    "circuits": "circuit",
    "wanted": "wanted",
    "found": "found",
}
PASSED_OVER = {"chambers", "rooms", "dehumidification", "air", "mix", "catalogue", "running_a", "units"}


def place_in_words(where: str, report: Report) -> str:
    """`kitchen: air movers, low`: rooms and models by their names, the rest in plain words; '' for the whole loss."""
    of_a_model = OF_A_MODEL.match(where)
    if of_a_model is not None:
        return f"{place_in_words(of_a_model[1], report)}, {of_a_model[2]}"
    names: list[str] = []
    words: list[str] = []
    chamber = room = None
    for name, number in STEP.findall(where):
        index = int(number) if number else None
        if name == "chambers" and index is not None and index < len(report.chambers):
            chamber = report.chambers[index]
            names.append(chamber.name)
        elif name == "rooms" and index is not None and chamber is not None and index < len(chamber.rooms):
            room = chamber.rooms[index]
            names.append(room.name)
        elif name == "mix" and index is not None and index < len(report.mix):
            names.append(report.mix[index].model)
        elif name == "short" and index is not None and index < len(report.short):
            names.extend(filter(None, [report.short[index].chamber]))
            words.append(f"short of {report.short[index].kind.replace('_', ' ')}")
        elif name not in PASSED_OVER:
            word = WORDS.get(name, name.replace("_", " "))
            words.append(word if index is None else f"{word} {index + 1}")
    # A room says enough where there is one chamber.
    shown = names[1:] if room is not None and len(report.chambers) == 1 else names
    return ": ".join(part for part in (", ".join(shown), ", ".join(words)) if part)


def unit_of(where: str) -> str:
    """The unit of the figure at a place, '' where it is a bare number such as a class."""
    if OF_A_MODEL.match(where):
        return COUNTED["count"]
    steps = where.split(".")
    last, before = steps[-1], steps[-2] if len(steps) > 1 else ""
    if before == "air_movers":
        return "air movers"
    if before == "drying_days":
        return "days"
    if last in COUNTED:
        return COUNTED[last]
    return next((unit for ending, unit in UNITS if last.endswith(ending)), "")
