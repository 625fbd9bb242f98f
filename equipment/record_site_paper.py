"""What the drying record prints of the site: hours that ran, power plans, counts, signatures."""

from collections.abc import Iterable
from datetime import datetime
from zoneinfo import ZoneInfo

from reportlab.graphics.shapes import Circle, Drawing, PolyLine
from reportlab.platypus import Flowable, KeepTogether, Paragraph, Spacer

from equipment.drying_record import DryingRecord
from equipment.on_site.power import PowerShown
from jobs.paper import INK, SMALL, TEXT, section, table, words
from jobs.signing.drawing import BOX, strokes


def site_sections(record: DryingRecord) -> list[Flowable]:
    """All of it; a section without rows is left out."""
    return [*_meters(record), *_power(record), *_counts(record), *_signatures(record)]


def _meters(record: DryingRecord) -> list[Flowable]:
    rows = [
        (_short(line.read_at, record.zone), line.number, line.model, f"{line.hours:g}", line.words, line.reason)
        for line in record.meters
    ]
    head = ("Read", "Unit", "Model", "Meter, hours", "Says", "Reason")
    return section("Hour meters", table(head, rows, (0.15, 0.1, 0.25, 0.1, 0.2, 0.2), SMALL)) if rows else []


def _power(record: DryingRecord) -> list[Flowable]:
    parts: list[Flowable] = []
    for plan in record.power_plans:
        said = f"{_short(plan.made_at, record.zone)}, {plan.by}. A breaker carries {plan.share:.0%} for hours."
        parts += [
            Paragraph(words(f"{said} (source: {plan.share_source})" if plan.share_source else said), TEXT),
            table(("Circuit", "Breaker", "Amps", "Units"), list(_circuits(plan)), (0.25, 0.12, 0.23, 0.4), SMALL),
            Spacer(1, 4),
        ]
    return section("Power plans", *parts) if parts else []


def _circuits(plan: PowerShown) -> Iterable[tuple[str, str, str, str]]:
    for use in plan.circuits:
        over = f", over by {use.over_a:g}" if use.over_a else ""
        yield use.name, f"{use.breaker_a:g} A", f"{use.used_a:g} of {use.limit_a:g}{over}", ", ".join(use.numbers)
    if plan.without:
        yield "on no circuit", "", "", ", ".join(plan.without)


def _counts(record: DryingRecord) -> list[Flowable]:
    rows = [
        (_short(line.counted_at, record.zone), line.by, str(line.listed), str(line.seen), ", ".join(line.missing))
        for line in record.counts
    ]
    head = ("Counted", "By", "On record", "Seen", "Not seen")
    return section("Counted on site", table(head, rows, (0.2, 0.25, 0.12, 0.12, 0.31), SMALL)) if rows else []


def _signatures(record: DryingRecord) -> list[Flowable]:
    parts: list[Flowable] = []
    for line in record.signatures:
        form = f" Form {line.form}, edition {line.form_edition}." if line.form else ""
        limits = f" Limits: {line.limits}." if line.limits else ""
        rule = f" Rule of {line.state}: {line.rule_source}, {line.rule_confidence}." if line.rule_source else ""
        said = (
            f"{line.name} ({line.role_words}) for {line.what_words}. {_short(line.signed_at, record.zone)}, "
            f"{line.how}, taken by {line.taken_by}.{limits}{form}{rule}"
        )
        parts.append(KeepTogether([Paragraph(words(said), TEXT), *_hand(line.drawing), Spacer(1, 5)]))
    return section("Signatures", *parts) if parts else []


def _hand(drawing: str) -> list[Flowable]:
    """A drawn signature, a quarter of its box's size."""
    if not drawing:
        return []
    sheet = Drawing(BOX[0] / 4, BOX[1] / 4)
    for stroke in strokes(drawing):
        points = [number / 4 for x, y in stroke for number in (x, BOX[1] - y)]
        if len(stroke) > 1:
            sheet.add(PolyLine(points, strokeColor=INK, strokeWidth=0.8))
        else:
            sheet.add(Circle(*points, 0.5, fillColor=INK, strokeWidth=0))
    return [sheet]


def _short(at: datetime, zone: ZoneInfo) -> str:
    local = at.astimezone(zone)
    return f"{local:%b} {local.day}, {local:%-I:%M %p}"
