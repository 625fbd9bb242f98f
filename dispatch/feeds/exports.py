"""Tables of one month as CSV: jobs, visits, promises, reservations, moves; for a spreadsheet, not for a backup."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet

from dispatch.measures.cases import Span
from equipment.models import Move, Reservation
from equipment.sheets.writing import csv_text
from jobs.models import Job, Promise, Visit
from jobs.refusals import NotThere, Refusal

MOST_ROWS = 50_000


class ExportNotThere(NotThere):
    """No table of this name is exported."""

    code = "export_not_found"


class ExportTooLong(Refusal):
    """The month holds more rows than one file may."""

    code = "export_too_long"
    status = 422


@dataclass(frozen=True)
class Export:
    """One table: its columns as (heading, field), and its rows in a span."""

    columns: Sequence[tuple[str, str]]
    rows: Callable[[Span], QuerySet[Any]]


def _jobs(span: Span) -> QuerySet[Any]:
    return Job.objects.filter(area=span.area_id, opened_at__gte=span.starts_at, opened_at__lt=span.ends_at)


def _visits(span: Span) -> QuerySet[Any]:
    return Visit.objects.filter(job__area=span.area_id, due_on__gte=span.first, due_on__lt=span.until)


def _promises(span: Span) -> QuerySet[Any]:
    return Promise.objects.filter(area=span.area_id, due_at__gte=span.starts_at, due_at__lt=span.ends_at)


def _reservations(span: Span) -> QuerySet[Any]:
    return Reservation.objects.filter(job__area=span.area_id, starts_at__lt=span.ends_at, ends_at__gt=span.starts_at)


def _moves(span: Span) -> QuerySet[Any]:
    return Move.objects.filter(
        to_holder__area=span.area_id, happened_at__gte=span.starts_at, happened_at__lt=span.ends_at
    )


def _same(*names: str) -> tuple[tuple[str, str], ...]:
    return tuple((name, name) for name in names)


EXPORTS: dict[str, Export] = {
    "jobs": Export(
        (
            *_same("number", "stage", "opened_at", "closed_at", "town", "state", "zip_code", "category", "building"),
            ("payer", "payer__name"),
            *_same("claim_number", "authorized_at"),
        ),
        _jobs,
    ),
    "visits": Export(
        (
            ("job", "job__number"),
            *_same("kind", "state", "due_on", "window_from", "window_until", "left_at", "arrived_at", "finished_at"),
            ("crew", "stop__crew__name"),
            *_same("reason"),
        ),
        _visits,
    ),
    "promises": Export(
        (
            ("job", "job__number"),
            *_same("kind", "basis", "starts_at", "due_at"),
            ("end", "end__end"),
            ("happened_at", "end__happened_at"),
        ),
        _promises,
    ),
    "reservations": Export(
        (
            ("job", "job__number"),
            ("model", "pool__model__code"),
            ("place", "pool__place__name"),
            *_same("state", "quantity", "drawn", "starts_at", "ends_at", "leads_reason"),
        ),
        _reservations,
    ),
    "moves": Export(
        (
            ("unit", "unit__number"),
            ("model", "unit__model__code"),
            *_same("why"),
            ("to_kind", "to_holder__kind"),
            ("to", "to_holder__name"),
            ("job", "to_holder__job__number"),
            *_same("room_name", "condition_after", "hour_meter", "happened_at", "recorded_at"),
            ("corrects", "corrects_id"),
        ),
        _moves,
    ),
}


def export(name: str, *, span: Span) -> str:
    """
    The file's text; times are the area's own, with their offset.

    :raises ExportNotThere: if there is no such table.
    :raises ExportTooLong: if the month holds more than `MOST_ROWS` rows.
    """
    found = EXPORTS.get(name)
    if found is None:
        raise ExportNotThere(f"There is no table {name!r} to export. Choose one of: {', '.join(EXPORTS)}.")
    fields = [field for _, field in found.columns]
    rows = list(found.rows(span).order_by("pk").values_list(*fields)[: MOST_ROWS + 1])
    if len(rows) > MOST_ROWS:
        raise ExportTooLong(f"This month holds more than {MOST_ROWS:,} rows. Read it through the API, page by page.")
    return csv_text([heading for heading, _ in found.columns], (_cells(row, span) for row in rows))


def _cells(row: Iterable[Any], span: Span) -> list[object]:
    return [
        value.astimezone(span.zone).isoformat(timespec="seconds") if hasattr(value, "astimezone") else value
        for value in row
    ]
