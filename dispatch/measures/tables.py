"""The measures of a month as tables: all of them at a glance, one with its cases, and files of both."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from dispatch.measures.cases import Case, Span
from dispatch.measures.definitions import MEASURES, Measure, measure_of
from dispatch.measures.reduce import SHOWN, Figure, figure, grouped
from jobs.charts import Chart, Series, line_chart

MONTHS_IN_A_CHART = 6
GROUPINGS = (("group", ""), ("warehouse", "Warehouse"), ("crew", "Crew lead"), ("payer", "Payer"))


@dataclass(frozen=True)
class Chosen:
    """What the reader narrowed the cases to; "" takes all."""

    warehouse: str = ""
    crew: str = ""
    payer: str = ""

    def takes(self, case: Case) -> bool:
        """Whether the case is among those chosen."""
        return all(
            not wanted or wanted == of_case
            for wanted, of_case in (
                (self.warehouse, case.warehouse),
                (self.crew, case.crew),
                (self.payer, case.payer),
            )
        )


@dataclass(frozen=True)
class MeasureLine:
    """One measure of one month: its definition, its figure in words, and how many cases stand behind it."""

    code: str
    name: str
    definition: str
    said: str
    more: str
    cases: int
    open_cases: int


@dataclass(frozen=True)
class GroupTable:
    """One way of telling the cases apart: (name, figure in words, cases) for each group."""

    title: str
    rows: tuple[tuple[str, str, int], ...]


@dataclass(frozen=True)
class MeasurePage:
    """One measure with its months, its groups and its cases, the worst first; `more_cases` are in the file only."""

    line: MeasureLine
    unit: str
    kind: str
    now_only: bool
    chart: Chart | None
    months: tuple[tuple[date, str, int], ...]
    groups: tuple[GroupTable, ...]
    cases: tuple[Case, ...]
    more_cases: int


def measures_of(span: Span, chosen: Chosen) -> tuple[MeasureLine, ...]:
    """All measures of one span; a fixed number of queries."""
    return tuple(_line(measure, _cases(measure, span, chosen)) for measure in MEASURES)


def measure_page(code: str, *, span: Span, chosen: Chosen) -> MeasurePage:
    """
    One measure of one span, and its figure over the months before.

    :raises MeasureNotThere: if there is no such measure.
    """
    measure = measure_of(code)
    cases = _cases(measure, span, chosen)
    months = () if measure.now_only else tuple(_months(measure, span, chosen, cases))
    shown = sorted(cases, key=_worst(measure))
    return MeasurePage(
        line=_line(measure, cases),
        unit=measure.unit,
        kind=measure.kind,
        now_only=measure.now_only,
        chart=_chart(measure, months, span.zone),
        months=tuple((first, said(measure, found), found.cases) for first, found in months),
        groups=tuple(_groups(measure, cases)),
        cases=tuple(shown[:SHOWN]),
        more_cases=max(0, len(shown) - SHOWN),
    )


def cases_of(code: str, *, span: Span, chosen: Chosen) -> tuple[Measure, list[Case]]:
    """Every case of one measure, in order of time, for the file."""
    measure = measure_of(code)
    return measure, sorted(_cases(measure, span, chosen), key=lambda case: case.at)


def said(measure: Measure, found: Figure) -> str:
    """The figure with its unit; "none" without a case."""
    if found.value is None or (found.cases == 0 and measure.kind != "total"):
        return "none"
    if measure.unit == "min":
        return _minutes(found.value)
    digits = 0 if measure.unit in ("%", "units", "trips", "times") else 1
    joined = "" if measure.unit == "%" else " "
    return f"{found.value:,.{digits}f}{joined}{measure.unit}"


def _cases(measure: Measure, span: Span, chosen: Chosen) -> list[Case]:
    return [case for case in measure.cases(span) if chosen.takes(case)]


def _figure(measure: Measure, cases: Sequence[Case]) -> Figure:
    return figure(measure.kind, cases, open_counts=measure.open_counts)


def _line(measure: Measure, cases: Sequence[Case]) -> MeasureLine:
    found = _figure(measure, cases)
    more = ""
    if measure.kind == "times" and found.high is not None:
        high = _minutes(found.high) if measure.unit == "min" else f"{found.high:,.1f} {measure.unit}"
        more = f"nine in ten within {high}"
    elif measure.kind == "share" and found.cases:
        more = f"{found.part:,.0f} of {found.whole:,.0f}"
    return MeasureLine(
        measure.code,
        measure.name,
        measure.definition,
        said(measure, found),
        more,
        found.cases,
        found.open_cases,
    )


def _minutes(value: float) -> str:
    minutes = round(value)
    return f"{minutes} min" if minutes < 120 else f"{minutes // 60} h {minutes % 60} min"


def _months(measure: Measure, span: Span, chosen: Chosen, cases: Sequence[Case]) -> list[tuple[date, Figure]]:
    found = [(span.first, _figure(measure, cases))]
    first = span.first
    for _ in range(MONTHS_IN_A_CHART - 1):
        year, month = (first.year - 1, 12) if first.month == 1 else (first.year, first.month - 1)
        before = Span.month(area_id=span.area_id, zone=span.zone, year=year, month=month, now=span.now)
        found.append((before.first, _figure(measure, _cases(measure, before, chosen))))
        first = before.first
    return found[::-1]


def _chart(measure: Measure, months: Sequence[tuple[date, Figure]], zone: ZoneInfo) -> Chart | None:
    values = [
        (datetime(first.year, first.month, first.day, tzinfo=zone), found.value)
        for first, found in months
        if found.value is not None and (found.cases or measure.kind == "total")
    ]
    title = f"{measure.name}, by month"
    return line_chart(title, measure.unit, [Series("", tuple(values))], zone, width=420, height=170)


def _groups(measure: Measure, cases: Sequence[Case]) -> list[GroupTable]:
    tables = []
    for label, title in GROUPINGS:
        rows = grouped(measure.kind, cases, label, open_counts=measure.open_counts)
        heading = measure.groups if label == "group" else title
        if heading and any(name != "none" for name, _ in rows):
            tables.append(
                GroupTable(heading.capitalize(), tuple((name, said(measure, one), one.cases) for name, one in rows))
            )
    return tables


def _worst(measure: Measure) -> Callable[[Case], tuple[float, datetime]]:
    sign = 1.0 if measure.kind == "share" and measure.best == "high" else -1.0
    return lambda case: (sign * case.part, case.at)
