"""The drying record on paper and as tables: one PDF for the job file, CSV for whoever counts for themselves."""

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.core.files.storage import default_storage
from reportlab.graphics.shapes import Circle, Drawing, PolyLine, String
from reportlab.graphics.shapes import Line as Stroke
from reportlab.platypus import Flowable, Image, KeepTogether, Paragraph, Spacer, Table

from equipment.drying_record import DryingRecord
from equipment.record_site_paper import site_sections
from equipment.sheets.writing import csv_text
from equipment.sizing_paper import Paper
from jobs import paper
from jobs.charts import Chart, log_charts
from jobs.paper import HEAD, INK, RULE, SMALL, TEXT, TITLE, WIDTH, section, table, words
from jobs.photos.keep import path_of


def record_pdf(record: DryingRecord) -> Paper:
    """The whole record as one PDF; the same record prints the same bytes."""
    zone = record.zone
    story: list[Flowable] = [
        Paragraph("Drying record", TITLE),
        Paragraph(words(f"{record.number}, {record.address}. As of {_at(record.as_of, zone)}, {zone.key}."), TEXT),
        *_head(record),
        *_sizing(record),
        *_charts(record),
        *_points(record),
        *_air(record),
        *_stays(record),
        *_days(record),
        *_visits(record),
        *_changes(record),
        *site_sections(record),
        *_photos(record),
    ]
    pdf = paper.sheet(story, title=f"Drying record, {record.number}", subject=record.number)
    return Paper(f"drying-record-{record.number}.pdf", pdf)


def readings_csv(record: DryingRecord) -> str:
    """Every standing reading: air, then points; times in the job's zone with their offset."""
    rows: list[Sequence[Any]] = [
        (_iso(line.taken_at, record.zone), "air", line.where, line.chamber, line.unit_number, "", line.dry_bulb_f,
         line.rh_pct, line.gpp, "", "", line.corrects, line.reason)
        for line in record.air
    ]  # fmt: skip
    for point in record.points:
        rows += [
            (_iso(value.taken_at, record.zone), "material", point.room_name, point.material, point.meter, point.number,
             "", "", "", value.value, point.goal, value.before_correction, value.reason)
            for value in point.values
        ]  # fmt: skip
    head = ("taken_at", "what", "where", "chamber_or_material", "unit_or_meter", "point", "dry_bulb_f", "rh_pct", "gpp",
            "value", "goal", "before_correction", "reason")  # fmt: skip
    return csv_text(head, rows)


def equipment_csv(record: DryingRecord) -> str:
    """Unit, place, from and to."""
    rows = [
        (stay.number, stay.model, stay.kind, stay.room_name, _iso(stay.begins_at, record.zone),
         _iso(stay.ends_at, record.zone))
        for stay in record.stays
    ]  # fmt: skip
    return csv_text(("unit", "model", "kind", "room", "from", "to"), rows)


def days_csv(record: DryingRecord) -> str:
    """Equipment-days in all three ways of counting, and by the payer's."""
    rows = [
        (line.kind, line.model, line.room_name, line.completed_24h, line.started_24h, line.calendar_days, line.charged)
        for line in record.days
    ]
    head = ("kind", "model", "room", "completed_24h", "started_24h", "calendar_days", "by_the_payers_rule")
    return csv_text(head, rows)


TABLES: Mapping[str, Callable[[DryingRecord], str]] = {
    "readings": readings_csv,
    "equipment": equipment_csv,
    "equipment-days": days_csv,
}


def _head(record: DryingRecord) -> list[Flowable]:
    zone = record.zone
    rows = [
        ("Opened", _at(record.opened_at, zone)),
        ("Closed", _at(record.closed_at, zone)),
        ("Water", f"category {record.category}" if record.category else "category not set"),
        ("Payer", record.payer),
        ("Claim", record.claim_number),
        ("Authorized", _at(record.authorized_at, zone)),
        ("Limits", record.authorized_limits),
    ]
    return section("The job", table(("What", ""), [row for row in rows if row[1]], (0.3, 0.7)))


def _sizing(record: DryingRecord) -> list[Flowable]:
    if record.sizing is None:
        return section("Sizing", Paragraph("The job was not sized.", TEXT))
    rows = [(row["chamber"] or "whole loss", row["model"], str(row["count"]), row["why"])
            for row in record.sizing["mix"]]  # fmt: skip
    said = f"Suggested {_at(record.sized_at, record.zone)} for {record.sized_by}, rules {record.sizing['rules']}. "
    return section(
        "Sizing",
        Paragraph(words(said + "A starting point: the lead decides. The sizing sheet holds the working."), TEXT),
        table(("Chamber", "Model", "Count", "Why"), rows, (0.2, 0.32, 0.13, 0.35)),
    )


def _charts(record: DryingRecord) -> list[Flowable]:
    charts = log_charts(record.points, record.air, record.zone)
    parts: list[Flowable] = [KeepTogether(_drawn(chart)) for chart in charts if chart.width > WIDTH / 2]
    cells = [_drawn(chart) for chart in charts if chart.width <= WIDTH / 2]
    pairs = [cells[n : n + 2] for n in range(0, len(cells), 2)]
    if pairs:
        parts.append(Table([[*pair, ""][:2] for pair in pairs], colWidths=[WIDTH / 2] * 2))
    return section("Charts", *parts) if parts else []


def _drawn(chart: Chart) -> list[Flowable]:
    """The chart's geometry with y turned upward, as paper counts it."""
    drawing, left, right = Drawing(chart.width, chart.height), chart.plot[0], chart.plot[2]

    def up(y: float) -> float:
        return chart.height - y

    def write(x: float, y: float, text: str, anchor: str = "start") -> None:
        drawing.add(String(x, y, paper.printable(text), fontSize=6.5, fillColor=INK, textAnchor=anchor))

    for tick in chart.y_ticks:
        drawing.add(Stroke(left, up(tick.at), right, up(tick.at), strokeColor=RULE, strokeWidth=0.3))
        write(left - 4, up(tick.at) - 2, tick.words, "end")
    for tick in chart.x_ticks:
        drawing.add(Stroke(tick.at, up(chart.plot[1]), tick.at, up(chart.plot[3]), strokeColor=RULE, strokeWidth=0.3))
        write(tick.at, 4, tick.words, "middle")
    if chart.goal_y is not None:
        y = up(chart.goal_y)
        drawing.add(Stroke(left, y, right, y, strokeColor=INK, strokeWidth=0.8, strokeDashArray=(1, 2)))
        write(left + 3, y + 2, f"goal {chart.goal:g}")
    for line in chart.lines:
        dash = tuple(int(part) for part in line.dash.split()) or None
        points = [number for x, y in line.points for number in (x, up(y))]
        drawing.add(PolyLine(points, strokeColor=INK, strokeWidth=1, strokeDashArray=dash))
        for x, y in line.points:
            drawing.add(Circle(x, up(y), 1.5, fillColor=INK, strokeWidth=0))
        write(line.label_x, up(line.label_y) - 2, line.name)
    return [Paragraph(words(f"{chart.title}, {chart.unit}"), HEAD), drawing, Spacer(1, 4)]


def _points(record: DryingRecord) -> list[Flowable]:
    rows = [
        (str(point.number), f"{point.room_name}, {_said(point.material)}", f"{point.meter}, {_said(point.scale)}",
         f"{point.dry_standard:g} / {point.goal:g}",
         "; ".join(f"{_short(value.taken_at, record.zone)}: {value.value:g}" for value in point.values),
         "at goal" if point.at_goal else "above goal")
        for point in record.points
    ]  # fmt: skip
    if not rows:
        return []
    head = ("Point", "Where", "Meter", "Standard / goal", "Readings", "Says")
    return section("Materials", table(head, rows, (0.07, 0.2, 0.19, 0.11, 0.33, 0.1), SMALL))


def _air(record: DryingRecord) -> list[Flowable]:
    rows = [
        (_short(line.taken_at, record.zone), " ".join((line.where_words, line.chamber, line.unit_number)).strip(),
         f"{line.dry_bulb_f:g} F", f"{line.rh_pct:g} %", "" if line.gpp is None else f"{line.gpp:g}")
        for line in record.air
    ]  # fmt: skip
    if not rows:
        return []
    head = ("When", "Where", "Temperature", "Humidity", "Grains per pound")
    return section("Air", table(head, rows, (0.2, 0.35, 0.15, 0.13, 0.17), SMALL))


def _stays(record: DryingRecord) -> list[Flowable]:
    rows = [
        (stay.number, stay.model, stay.room_name, _short(stay.begins_at, record.zone),
         _short(stay.ends_at, record.zone) or "still there")
        for stay in record.stays
    ]  # fmt: skip
    if not rows:
        return section("Equipment", Paragraph("No unit stood here.", TEXT))
    return section("Equipment", table(("Unit", "Model", "Room", "From", "To"), rows, (0.1, 0.3, 0.2, 0.2, 0.2), SMALL))


def _days(record: DryingRecord) -> list[Flowable]:
    if not record.days:
        return []
    rule, rows = record.rule, []
    for line in record.days:
        counts = (line.completed_24h, line.started_24h, line.calendar_days)
        charged = "" if line.charged is None else str(line.charged)
        rows.append((line.model, line.room_name or "whole job", *map(str, counts), charged))
    said = "No rule of a payer is known: all three ways of counting stand side by side."
    if rule is not None:
        rooms = "room by room" if rule.by_room else "for the whole job"
        said = f"The payer counts {rule.words}, {rooms} (source: {rule.source}, {rule.confidence})."
    head = ("Model", "Where", "Completed 24 h", "Started 24 h", "Calendar days", "By the payer's rule")
    return section(
        "Equipment-days", Paragraph(words(said), TEXT), table(head, rows, (0.27, 0.19, 0.13, 0.13, 0.13, 0.15))
    )


def _visits(record: DryingRecord) -> list[Flowable]:
    rows = [
        (line.due_on, line.kind, line.state, _short(line.arrived_at, record.zone),
         _short(line.finished_at, record.zone),
         "; ".join(part for part in (line.reason, line.told and f"told: {line.told}", line.note) if part))
        for line in record.visits
    ]  # fmt: skip
    head = ("Due", "Visit", "State", "Arrived", "Done", "Notes")
    return section("Visits", table(head, rows, (0.13, 0.17, 0.13, 0.15, 0.15, 0.27), SMALL)) if rows else []


def _changes(record: DryingRecord) -> list[Flowable]:
    rows = [(_short(row.at, record.zone), row.by, row.what, row.reason) for row in record.changes]
    head = ("When", "Who", "What", "Why")
    return section("Decisions and corrections", table(head, rows, (0.15, 0.17, 0.35, 0.33), SMALL)) if rows else []


def _photos(record: DryingRecord) -> list[Flowable]:
    """Two beside each other, each with its words."""
    cells: list[list[Flowable]] = []
    for line in record.photos:
        wide = WIDTH / 2 - 12
        # Read when its page is drawn, so that sixty photos are not held at once.
        image = Image(default_storage.path(path_of(line.digest)), wide, wide * line.height / line.width, lazy=2)
        image._restrictSize(wide, wide)
        said = ", ".join(part for part in (line.room_name, _short(line.taken_at, record.zone), line.taken_by) if part)
        cells.append([image, Paragraph(words(f"{line.note}. {said}" if line.note else said), SMALL), Spacer(1, 6)])
    pairs = [[*cells[n : n + 2], ""][:2] for n in range(0, len(cells), 2)]
    return section("Photos", Table(pairs, colWidths=[WIDTH / 2] * 2)) if pairs else []


def _at(at: datetime | None, zone: ZoneInfo) -> str:
    if at is None:
        return ""
    local = at.astimezone(zone)
    return f"{local:%b} {local.day}, {local.year}, {local:%-I:%M %p %Z}"


def _short(at: datetime | None, zone: ZoneInfo) -> str:
    if at is None:
        return ""
    local = at.astimezone(zone)
    return f"{local:%b} {local.day}, {local:%-I:%M %p}"


def _iso(at: datetime | None, zone: ZoneInfo) -> str:
    return "" if at is None else at.astimezone(zone).isoformat(timespec="minutes")


def _said(word: str) -> str:
    """A material or a meter's scale as it is read; the CSV and the JSON keep its key."""
    return {"percent_mc": "% MC", "relative_0_100": "0 to 100"}.get(word, word.replace("_", " "))
