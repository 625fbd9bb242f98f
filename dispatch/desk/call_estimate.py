"""The estimate beside the questions: what was told, sized; first in a few lines, then the whole report."""

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from equipment.sizing_reports import LossUnusable, sized
from equipment.sizing_view import KINDS, SizingView, sizing_view
from jobs import loss
from jobs.calls.rooms import CELLS


def in_words(counts: Mapping[str, int]) -> str:
    """`2 low-grain dehumidifiers, 14 air movers`, in the order of the table above."""
    order = sorted(counts, key=lambda kind: (list(KINDS).index(kind) if kind in KINDS else len(KINDS), kind))
    return ", ".join(
        f"{counts[kind]} {KINDS.get(kind, kind.replace('_', ' '))}{'' if counts[kind] == 1 else 's'}"
        for kind in order
        if counts[kind]
    )


@dataclass(frozen=True)
class Line:
    """One figure of the estimate."""

    what: str
    figure: str
    why: str = ""


@dataclass(frozen=True)
class Estimate:
    """The figures, what is refused or cautioned, and the rule set; or why there is none yet."""

    lines: tuple[Line, ...] = ()
    units: str = ""
    notes: tuple[str, ...] = ()
    rules: str = ""
    not_yet: str = ""
    whole: SizingView | None = None


def estimate_of(facts: loss.Told) -> Estimate:
    """What the rooms told so far would take."""
    told = loss.of_call(facts)
    if told is None:
        return Estimate(not_yet="Appears with the first room that has a size.")
    try:
        found = sized(told)
    except LossUnusable as refusal:
        return Estimate(not_yet=f"{_where(refusal.where or '', told)}{refusal.message}")
    report = found.as_document()
    counts: Counter[str] = Counter()
    for row in report["mix"]:
        counts[row["kind"]] += row["count"]
    return Estimate(
        tuple(_figures(report)),
        in_words(counts),
        tuple(dict.fromkeys(row["message"] for row in (*report["refusals"], *report["cautions"]))),
        report["rules"],
        whole=sizing_view(found),
    )


def _figures(report: dict[str, Any]) -> Iterator[Line]:
    for chamber in report["chambers"]:
        of = f", {chamber['name']}" if len(report["chambers"]) > 1 else ""
        if chamber["class"] is not None:
            yield Line(f"Class of water{of}", str(chamber["class"]), f"{chamber['wet_share']:.0%} wet")
        drying = chamber["dehumidification"]
        if drying is not None:
            amount = drying.get("pints_per_day") or drying.get("process_cfm")
            unit = "pints a day" if drying.get("pints_per_day") else "cfm"
            yield Line(f"Dehumidification{of}", f"{round(amount)} {unit}", KINDS.get(drying["kind"], drying["kind"]))
        movers = chamber["air_movers"]
        if movers["high"]:
            span = f"{movers['low']} to {movers['high']}"
            # Category 3: nothing blows before it is clean.
            why = span if movers["planned"] else f"none before it is cleaned; after that {span}"
            yield Line(f"Air movers{of}", str(movers["planned"]), why)
        days = chamber["drying_days"]
        if days and days.get("likely"):
            yield Line(f"Days to dry{of}", f"{days['low']} to {days['high']}", f"slowest: {_words(days['slowest'])}")
    filtration = report["air_filtration"]
    if filtration:
        yield Line("Air filtration", f"{filtration['cfm']:g} cfm", filtration["why"])
    if report["wall_cavities"] and report["wall_cavities"]["outlets"]:
        kits = report["wall_cavities"]["kits"]
        yield Line("Wall cavities", f"{report['wall_cavities']['outlets']} outlets", f"{kits} kits" if kits else "")
    if report["wood_floors"] and report["wood_floors"]["wet_sqft"]:
        kits = report["wood_floors"]["kits"]
        yield Line("Wood floor", f"{report['wood_floors']['wet_sqft']:g} sq ft", f"{kits} mat kits" if kits else "")
    power = report["power"]
    used = sum(1 for circuit in power["circuits"] if circuit["used_a"])
    unplaced = sum(power["unplaced"].values())
    why = f"on {used} circuits" + (f", {unplaced} units without power" if unplaced else "") if power["circuits"] else ""
    yield Line("Power", f"{power['total_a']:g} A", why or "ask which circuits may be used")


def _words(word: Any) -> str:
    return str(word or "not known").replace("_", " ")


def _where(where: str, told: dict[str, Any]) -> str:
    """The room and measure that a refused loss names: `chambers[0].rooms[1].wet_floor_sqft`, in the desk's words."""
    parts = where.replace("]", "").replace("[", ".").split(".")
    try:
        room = told["chambers"][int(parts[1])]["rooms"][int(parts[3])]
    except (IndexError, ValueError):
        return ""
    measure = CELLS[parts[4]][0] if len(parts) > 4 and parts[4] in CELLS else ""
    return f"{room['name']}{f', {measure}' if measure else ''}: "
