"""A rehearsal's result as a page that stands alone, and as a table for a spreadsheet."""

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib.resources import files
from typing import Any

from django.template.loader import render_to_string
from django.utils.safestring import SafeString, mark_safe

from dispatch.rehearsal.plots import Bars, Plot, bars, by_hour, share_by_minutes

Document = Mapping[str, Any]
Key = tuple[str, str]

# Name, heading, digits, and which way is better (0: neither).
COLUMNS: tuple[tuple[str, str, int, int], ...] = (
    ("calls", "calls", 0, 0),
    ("visits", "visits made", 0, 0),
    ("arrival_median_min", "arrival, median, min", 0, -1),
    ("arrival_p90_min", "arrival, 90 of 100 within, min", 0, -1),
    ("promises_kept_pct", "promises kept, %", 1, 1),
    ("arrivals_kept_pct", "of arrivals, %", 1, 1),
    ("visits_kept_pct", "of daily visits, %", 1, 1),
    ("days_to_dry_median", "days to dry, median", 1, -1),
    ("days_to_dry_p90", "days to dry, 90 of 100 within", 1, -1),
    ("jobs_short", "jobs short of machines", 1, -1),
    ("units_short", "machines short", 0, -1),
    ("drive_h", "driving, h", 0, -1),
    ("overtime_h", "overtime, h", 0, -1),
)
MEANINGS = (
    (
        "arrival",
        "From the first ring to the door, for callers who wanted somebody at once; agreed mornings stand apart.",
    ),
    (
        "promises kept",
        "Kept / (kept + broken + still open past due): arrivals by the payer's clock, daily visits on their day.",
    ),
    ("days to dry", "From the first machine to the reading that finds the job dry; not to the pick-up."),
    ("short of machines", "At the first visit a kind was missing that the vehicle had room for."),
    ("overtime", "Time at work beyond the end of the shift, the way home included."),
)
CAUTION = "A rehearsal compares; it does not promise. People, machines and roads are more various than this."


@dataclass(frozen=True)
class Cell:
    words: str
    best: bool


@dataclass(frozen=True)
class Row:
    fleet: str
    rule: str
    cells: tuple[Cell, ...]


@dataclass(frozen=True)
class Report:
    """What the page shows."""

    title: str
    subtitle: str
    how: str
    summary: tuple[str, ...]
    runs_each: str
    heads: tuple[str, ...]
    rows: tuple[Row, ...]
    bars: tuple[Bars, ...]
    plots: tuple[Plot, ...]
    meanings: tuple[tuple[str, str], ...]
    assumed: tuple[tuple[str, str], ...]
    style: SafeString


def as_html(result: Document) -> str:
    """The report of a result (`format` 1), with its style and plots inside."""
    return render_to_string("dispatch/rehearsal/report.html", {"report": report_of(result)})


def as_csv(result: Document) -> str:
    """One row for each run."""
    out = io.StringIO()
    names = [name for name, value in result["runs"][0].items() if not isinstance(value, (list, dict))]
    writer = csv.DictWriter(out, names, extrasaction="ignore", lineterminator="\n")
    writer.writeheader()
    writer.writerows(result["runs"])
    return out.getvalue()


def as_lines(result: Document) -> list[str]:
    """The means, for a terminal."""
    wanted = (
        "promises_kept_pct",
        "arrival_median_min",
        "arrival_p90_min",
        "days_to_dry_median",
        "units_short",
        "drive_h",
    )
    heads = {name: head for name, head, _, _ in COLUMNS}
    lines = [f"{'fleet':<18}{'rule':<12}" + "".join(f"{heads[name].split(',')[0][:15]:>17}" for name in wanted)]
    lines += [
        f"{row['fleet']:<18}{row['rule']:<12}" + "".join(f"{_words(row[name], 1):>17}" for name in wanted)
        for row in result["means"]
    ]
    return lines


def report_of(result: Document) -> Report:
    """The page's data from a result."""
    runs: dict[Key, list[Document]] = {}
    for one in result["runs"]:
        runs.setdefault((one["fleet"], one["rule"]), []).append(one)
    fleets = list(dict.fromkeys(fleet for fleet, _ in runs))
    names = {key: f"{key[1]}, {_fleet(key[0])}" if len(fleets) > 1 else key[1] for key in runs}
    storm = result["storm"]
    title = f"Rehearsal of a {storm}" if storm else f"Rehearsal of {result['days']} days"
    seeds = result["seeds"]
    return Report(
        title=title,
        subtitle=f"{result['company']}, {result['days']} days from {result['first_day']}, "
        f"{len(seeds)} {'seed' if len(seeds) == 1 else 'seeds'} ({', '.join(map(str, seeds))})",
        how=f"{result['how']} {CAUTION}",
        summary=_summary(result["means"]),
        runs_each=f"{len(seeds)} {'run' if len(seeds) == 1 else 'runs'} each",
        heads=("fleet", "rule", *(head for _, head, _, _ in COLUMNS)),
        rows=_rows(result["means"]),
        bars=_bars(runs, names),
        plots=_plots({key: of for key, of in runs.items() if key[0] == fleets[0]}, names, result["days"]),
        meanings=MEANINGS,
        assumed=tuple((row["what"], row["source"]) for row in result["assumed"]),
        style=_style(),
    )


def _style() -> SafeString:
    text = files("dispatch.rehearsal").joinpath("report.css").read_text(encoding="utf-8")
    # Our own file, never anything that was typed.
    return mark_safe(f"<style>{text}</style>")


def _summary(means: Sequence[Document]) -> tuple[str, ...]:
    best = max(means, key=lambda row: row["promises_kept_pct"] or 0)
    fast = min(means, key=lambda row: row["arrival_median_min"] or 1e9)
    least = min(means, key=lambda row: row["drive_h"])
    return (
        f"Most promises are kept by {best['rule']} with the fleet {_fleet(best['fleet'])}: "
        f"{best['promises_kept_pct']:.1f} %.",
        f"Callers see somebody soonest by {fast['rule']} with the fleet {_fleet(fast['fleet'])}: "
        f"half of them within {fast['arrival_median_min']:.0f} minutes.",
        f"Crews drive least by {least['rule']} with the fleet {_fleet(least['fleet'])}: {least['drive_h']:.0f} hours.",
    )


def _rows(means: Sequence[Document]) -> tuple[Row, ...]:
    best: dict[str, float] = {}
    for name, _, digits, better in COLUMNS:
        values = [round(row[name], digits) for row in means if row[name] is not None]
        if better and len(set(values)) > 1:
            best[name] = max(values) if better > 0 else min(values)
    return tuple(
        Row(
            _fleet(row["fleet"]),
            row["rule"],
            tuple(
                Cell(_words(row[name], digits), row[name] is not None and round(row[name], digits) == best.get(name))
                for name, _, digits, _ in COLUMNS
            ),
        )
        for row in means
    )


def _bars(runs: Mapping[Key, Sequence[Document]], names: Mapping[Key, str]) -> tuple[Bars, ...]:
    wanted = (
        ("promises_kept_pct", "Promises kept", "%"),
        ("arrival_median_min", "From the first ring to the door, median", "min"),
        ("units_short", "Machines short at first visits", ""),
        ("drive_h", "Driving", "h"),
        ("overtime_h", "Overtime", "h"),
    )
    each = "The bar is the mean; a thin line across it is one run."
    return tuple(
        bars(title, {names[key]: [one[name] or 0 for one in of] for key, of in runs.items()}, unit=unit, said=each)
        for name, title, unit in wanted
    )


def _plots(runs: Mapping[Key, Sequence[Document]], names: Mapping[Key, str], days: int) -> tuple[Plot, ...]:
    def together(name: str) -> dict[str, list[float]]:
        return {names[key]: [value for one in of for value in one[name]] for key, of in runs.items()}

    hours = {
        names[key]: [sum(at) / len(of) for at in zip(*(one["waiting_by_hour"] for one in of), strict=True)]
        for key, of in runs.items()
    }
    return (
        share_by_minutes(
            "How soon somebody is there",
            {name: [minutes / 60 for minutes in values] for name, values in together("arrivals_min").items()},
            unit="hours after the first ring",
            said="Share of the callers served at all who had somebody at the door within so many hours.",
        ),
        by_hour(
            "Callers who wait",
            hours,
            said=f"Callers who wanted somebody at once and still waited: the mean, over {days} days and what follows.",
        ),
        share_by_minutes(
            "How soon jobs are dry",
            together("days_to_dry"),
            unit="days after the first machine",
            said="Share of the jobs found dry within so many days, of those found dry while the rehearsal ran.",
        ),
    )


def _fleet(name: str) -> str:
    return name.replace("_", " ")


def _words(value: float | None, digits: int) -> str:
    return "none" if value is None else f"{value:,.{digits}f}"
