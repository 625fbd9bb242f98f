"""The sizing of a loss on paper, for the job file: a PDF from a report, the same bytes for the same report."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from reportlab.platypus import Flowable, Paragraph, Spacer

from equipment.sizing.report import ChamberReport, Notice, Report
from equipment.sizing.wording import plain
from jobs import paper
from jobs.paper import SMALL, TEXT, TITLE, section, table, words
from jobs.science.air_changes import removal_minutes

CLEARED = (0.90, 0.99, 0.999)
MIXING_FACTORS = (1, 3, 10)
CDC = "CDC Guidelines for Environmental Infection Control (2003), Table B.1: minutes = 60 ln(1 / share left) / ACH"


@dataclass(frozen=True)
class LeadsWord:
    """What the lead decided beside a suggestion, and why; all as it should be read."""

    what: str
    suggested: str
    lead: str
    reason: str


def sizing_sheet(report: Report, *, job: str, prepared: str, lead: Sequence[LeadsWord] = ()) -> bytes:
    """
    A printable sheet of the report: needs, equipment, power, cautions, and the working of every figure.

    ``job`` names the job and ``prepared`` says when and by whom, both as they should be read. ``lead`` stands beside
    the suggestions and never over them.
    """
    story: list[Flowable] = [
        Paragraph("Sizing sheet", TITLE),
        Paragraph(words(f"{job}. {prepared}. Rules: {report.rules}."), TEXT),
        Paragraph("A starting point from what was told. The lead decides, and counts change with the readings.", TEXT),
        *_leads_words(lead),
        *_notices("Refused", report.refusals),
        *_chambers(report.chambers),
        *_whole_loss(report),
        *_equipment(report),
        *_power(report),
        *_notices("Cautions", report.cautions),
        *_working(report),
    ]

    return paper.sheet(story, title=f"Sizing sheet, {job}", subject=report.rules)


def short(number: Fraction | int | float) -> str:
    """One decimal on paper; the working below has the others."""
    return plain(round(Fraction(number), 1))


def _leads_words(lead: Sequence[LeadsWord]) -> list[Flowable]:
    if not lead:
        return []
    rows = [(word.what, word.suggested, word.lead, word.reason) for word in lead]
    return section("The lead's word", table(("What", "Suggested", "Lead", "Reason"), rows, (0.3, 0.15, 0.15, 0.4)))


def _chambers(chambers: Sequence[ChamberReport]) -> list[Flowable]:
    parts: list[Flowable] = []
    for chamber in chambers:
        need = chamber.dehumidification
        if need is None:
            asked = "refused, see above"
        elif need.pints_per_day is None:
            asked = f"{short(need.process_cfm or 0)} cfm process air, {need.kind}"
        else:
            asked = f"{short(need.pints_per_day)} pints/day rated, {need.kind}"
            if need.derated_pints_per_day is not None:
                asked += f" (about {short(need.derated_pints_per_day)} in this air)"
        days, movers = chamber.drying_days, chamber.air_movers
        slowest = f", slowest {days.slowest.replace('_', ' ')}" if days.slowest else ""
        lines = [
            ("Class", f"{chamber.class_} ({chamber.class_from}), {short(chamber.wet_share * 100)} % wet"),
            ("Volume, surface, wet", f"{short(chamber.volume_cuft)} cu ft, {short(chamber.surface_sqft)} sq ft, "
             f"{short(chamber.wet_sqft)} sq ft"),
            ("Dehumidification", asked),
            ("Air movers", f"{movers.planned} planned, {movers.low} to {movers.high}"),
            ("Drying", f"{short(days.low)} to {short(days.high)} days, likely {short(days.likely)}{slowest}"),
        ]  # fmt: skip
        if chamber.air is not None:
            air = chamber.air
            lines.append(
                (
                    "Air",
                    f"{air.gpp:.1f} grains/lb, dew point {air.dew_point_f:.1f} F, {air.vapor_pressure_inhg:.3f} in Hg",
                )
            )
        rooms = [(f"Room: {room.name}", f"{room.air_movers.planned} air movers ({room.air_movers.low} to "
                  f"{room.air_movers.high})") for room in chamber.rooms]  # fmt: skip
        parts += section(f"Chamber: {chamber.name}", table(("What", "Suggested"), [*lines, *rooms], (0.3, 0.7)))
    return parts


def _whole_loss(report: Report) -> list[Flowable]:
    lines: list[tuple[str, str]] = []
    if report.wall_cavities.runs:
        lines.append(("Wall cavities", f"{report.wall_cavities.outlets} outlets, {report.wall_cavities.kits} kits"))
    if report.wood_floors.kits:
        lines.append(
            ("Wood floors", f"{short(report.wood_floors.wet_sqft)} sq ft wet, {report.wood_floors.kits} mat kits")
        )
    air = report.air_filtration
    if air is None:
        return section("Whole loss", table(("What", "Suggested"), lines, (0.3, 0.7))) if lines else []
    changes = float(air.changes_per_hour)
    lines.append(("Air filtration", f"{short(air.cfm)} cfm, {short(air.changes_per_hour)} changes an hour ({air.why})"))
    clearing = [
        (f"{factor}", *(f"{removal_minutes(changes, share, factor):.0f} min" for share in CLEARED))
        for factor in MIXING_FACTORS
    ]
    return section(
        "Whole loss",
        table(("What", "Suggested"), lines, (0.3, 0.7)),
        Spacer(1, 6),
        Paragraph(
            words(f"Time to clear the air once the source has stopped. {CDC}; poor mixing multiplies it."), SMALL
        ),
        table(("Mixing factor", "90 % cleared", "99 % cleared", "99.9 % cleared"), clearing, (0.25,) * 4),
    )


def _equipment(report: Report) -> list[Flowable]:
    if not report.mix and not report.short:
        return []
    rows = [(row.chamber or "whole loss", row.model, str(row.count), row.why) for row in report.mix]
    missing = [
        (f"{row.chamber or 'whole loss'}", f"SHORT: {row.kind.replace('_', ' ')}",
         f"{short(row.found)} of {short(row.wanted)} {row.unit.replace('_', ' ')}", row.why)
        for row in report.short
    ]  # fmt: skip
    return section("Equipment", table(("Chamber", "Model", "Count", "Why"), [*rows, *missing], (0.2, 0.32, 0.13, 0.35)))


def _power(report: Report) -> list[Flowable]:
    power = report.power
    if not power.total_a:
        return []
    rows = [
        (f"{load.circuit + 1}", f"{short(load.used_a)} of {short(load.limit_a)} A",
         ", ".join(f"{count} x {model}" for model, count in load.units.items()) or "nothing")
        for load in power.circuits
    ]  # fmt: skip
    if power.unplaced:
        rows.append(("none", "", "No place for: " + ", ".join(f"{n} x {m}" for m, n in power.unplaced.items())))
    total = Paragraph(words(f"{short(power.total_a)} A in all, at 120 V, running."), TEXT)
    if not rows:
        return section("Power", total)
    return section("Power", total, table(("Circuit", "Load", "What runs on it"), rows, (0.12, 0.22, 0.66)))


def _notices(title: str, notices: Sequence[Notice]) -> list[Flowable]:
    if not notices:
        return []
    rows = [(notice.where, notice.message, notice.source) for notice in notices]
    return section(title, table(("Where", "What", "Source"), rows, (0.2, 0.53, 0.27), SMALL))


def _working(report: Report) -> list[Flowable]:
    rows = [(row.where, row.sum, row.source) for row in report.working]
    return section("Working", table(("Figure", "Sum", "Source"), rows, (0.34, 0.33, 0.33), SMALL)) if rows else []
