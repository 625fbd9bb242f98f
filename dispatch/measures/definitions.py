"""
Every measure with the definition that its page shows, and the function that lists its cases.

The definitions are the trade's questions in words that leave no room for argument (common practice, no source):
whatever is late, open or unexplained counts against, so that nothing gets better by being left unsaid.
"""

from collections.abc import Callable
from dataclasses import dataclass

from dispatch.measures import calls, people, promises, stock
from dispatch.measures.cases import Case, Span
from dispatch.measures.reduce import Kind
from jobs.refusals import NotThere


class MeasureNotThere(NotThere):
    """No such measure."""

    code = "measure_not_found"


@dataclass(frozen=True)
class Measure:
    """
    One measure. `unit` follows its figure; `groups` says what its cases are told apart by.

    `best`: "low", "high", or "" where neither is better. `now_only`: it shows the present, whatever the month.
    `open_counts`: what has not ended counts as far as it got; otherwise it is listed and not counted.
    """

    code: str
    name: str
    definition: str
    kind: Kind
    unit: str
    groups: str
    best: str
    cases: Callable[[Span], list[Case]]
    now_only: bool = False
    open_counts: bool = True


MEASURES: tuple[Measure, ...] = (
    Measure(
        "call_to_call_back",
        "Call to call back",
        "From the first ring to a person with authority phoning the caller. A caller whom nobody has phoned yet counts "
        "with the minutes so far; agreeing a later time is no call back.",
        "times",
        "min",
        "hour of the ring",
        "low",
        calls.call_back,
    ),
    Measure(
        "call_to_acknowledged",
        "Page to acknowledged",
        "From the first page for a first visit to somebody saying that they are leaving, failed tries included. "
        "Where nobody has said so yet, the minutes so far.",
        "times",
        "min",
        "tries",
        "low",
        calls.acknowledged,
    ),
    Measure(
        "call_to_on_site",
        "Call to on site",
        "From the first ring to arrival at the door. Jobs whose customer agreed to a later time stand apart. "
        "Where nobody is there yet, the minutes so far.",
        "times",
        "min",
        "as promised, or later by agreement",
        "low",
        calls.on_site,
    ),
    Measure(
        "on_site_by_rule",
        "On site by the payer's rule",
        "Of the first arrivals whose payer sets a time and whose customer agreed to no later one: those within that "
        "time. Past the time and nobody there counts as missed.",
        "share",
        "%",
        "",
        "high",
        calls.on_site_by_rule,
    ),
    Measure(
        "promises_kept",
        "Promises kept",
        "Of the promises that fell due: kept, divided by kept, broken, and still open past due. A time that was agreed "
        "later in good time is counted on its new time.",
        "share",
        "%",
        "what was promised",
        "high",
        promises.promises_kept,
    ),
    Measure(
        "days_to_dry",
        "Days to dry",
        "From the first machine placed to the last reading at goal, not to the pick-up, by class. Jobs that are not "
        "dry yet, or were picked up without a reading at goal, stand in the list and are counted as open.",
        "times",
        "days",
        "class",
        "low",
        stock.days_to_dry,
        open_counts=False,
    ),
    Measure(
        "idle_at_jobs",
        "Idle at jobs",
        "Unit-days that machines stood at a job after their room, or the whole job, was at its goal, up to pick-up.",
        "total",
        "unit-days",
        "",
        "low",
        stock.idle_at_jobs,
    ),
    Measure(
        "utilization",
        "Time utilization",
        "Days at jobs of all days that our own machines were ours, each machine weighted by what a new one costs. "
        "Rented machines and models without a cost are left out.",
        "share",
        "%",
        "kind",
        "",
        stock.utilization,
    ),
    Measure(
        "utilization_by_count",
        "Time utilization, by count",
        "Days at jobs of all days that our own machines were ours, each machine counted once.",
        "share",
        "%",
        "kind",
        "",
        stock.utilization_by_count,
    ),
    Measure(
        "ready_share",
        "Ready share",
        "Of the machines that are not at jobs now (in warehouses, on vehicles, in repair): those that are ready. "
        "What is missing waits for cleaning, repair or a decision.",
        "share",
        "%",
        "kind",
        "high",
        stock.ready_share,
        now_only=True,
    ),
    Measure(
        "not_found",
        "Not found",
        "Units that the record has as not found now, however long ago; with their cost and who saw each last.",
        "total",
        "units",
        "kind",
        "low",
        stock.not_found,
        now_only=True,
    ),
    Measure(
        "first_visit_adequacy",
        "First visit was enough",
        "Of the first visits: those after which no second load was written for the job within 24 hours. A load written "
        "before arriving was planned in stages and does not count against.",
        "share",
        "%",
        "",
        "high",
        stock.first_visit_adequacy,
    ),
    Measure(
        "estimate_error",
        "Estimate error",
        "Units estimated on the phone and units placed within 24 hours of arriving: the difference, too many or too "
        "few alike, as a share of those placed.",
        "share",
        "%",
        "too many or too few",
        "low",
        stock.estimate_error,
    ),
    Measure(
        "silent_hours",
        "Silent hours",
        "Hours that machines with an hour meter stood at a job and did not run: the clock's hours less the meter's.",
        "total",
        "h",
        "kind",
        "low",
        stock.silent_hours,
    ),
    Measure(
        "visits_done",
        "Visits due and done",
        "Of the visits due: done. Missed, could not work, and past their day with nothing recorded count against; "
        "weekends stand apart. A visit that became unnecessary is left out.",
        "share",
        "%",
        "weekday or weekend",
        "high",
        promises.visits_done,
    ),
    Measure(
        "drive_share",
        "Drive share",
        "Hours from leaving for a stop to its door, as a share of the lead's paid hours.",
        "share",
        "%",
        "",
        "low",
        people.drive_share,
    ),
    Measure(
        "overtime",
        "Overtime",
        "Hours worked beyond the week's limit in the rules, per person and week from Monday to Monday; by the state of "
        "their warehouse.",
        "total",
        "h",
        "state",
        "low",
        people.overtime,
    ),
    Measure(
        "rest_breaches",
        "Short rest",
        "Times that somebody began work with fewer hours off than the rest rule asks.",
        "total",
        "times",
        "state",
        "low",
        people.rest_breaches,
    ),
    Measure(
        "billed_days",
        "Billed against logged days",
        "Equipment-days by which the bill and the log of a closed job differ, model by model, so that too many of one "
        "never make up for too few of another. Of a job whose bill was not entered every logged day counts.",
        "total",
        "unit-days",
        "as logged, differs, or nothing entered",
        "low",
        stock.billed_days,
    ),
    Measure(
        "wasted_trips",
        "Trips wasted",
        "Visits that a crew drove to and could not work at, by cause.",
        "total",
        "trips",
        "cause",
        "low",
        promises.wasted_trips,
    ),
)
BY_CODE = {measure.code: measure for measure in MEASURES}


def measure_of(code: str) -> Measure:
    """
    The measure of this code.

    :raises MeasureNotThere: if there is none.
    """
    found = BY_CODE.get(code)
    if found is None:
        raise MeasureNotThere(f"There is no measure {code}. Choose one of: {', '.join(BY_CODE)}.")
    return found
