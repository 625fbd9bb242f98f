"""The hand-over sheet on paper."""

from collections.abc import Sequence

from reportlab.platypus import Flowable, Paragraph

from dispatch.desk.handover_pages import HandoverSheet
from dispatch.desk.on_paper import at, part
from equipment.sizing_paper import Paper
from jobs.clock_board import ClockLine
from jobs.paper import TEXT, TITLE, section, sheet, words

_CLOCK_HEAD, _CLOCK_SHARES = ("Left", "What", "For", "Whose"), (0.2, 0.2, 0.42, 0.18)


def handover_pdf(page: HandoverSheet) -> Paper:
    """The sheet as one PDF: what to do first, then part by part; an empty part is left out."""
    zone = page.zone
    local = page.now.astimezone(zone)
    first = [f"{number}. {line.what}" for number, line in enumerate(page.first, 1)]
    story: list[Flowable] = [
        Paragraph("Hand-over", TITLE),
        Paragraph(words(f"{page.area}, {at(page.now, zone)} {local:%Z}. Everything open, nothing closed."), TEXT),
        *section("First", *[Paragraph(words(line), TEXT) for line in first or ["Nothing is late and nobody waits."]]),
        *_people(page),
        *_equipment(page),
        *_rest_of_it(page),
    ]
    pdf = sheet(story, title=f"Hand-over, {page.area}, {at(page.now, zone)}", subject=page.area)
    return Paper(f"hand-over-{local:%Y-%m-%d-%H%M}.pdf", pdf)


def _people(page: HandoverSheet) -> list[Flowable]:
    zone = page.zone
    callers = [(call.left, f"{call.name} {call.where}".strip(), call.phone, call.owner) for call in page.callers]
    asks = [(ask.person, f"{ask.job_number}, {ask.place}", at(ask.answer_by, zone)) for ask in page.asks]
    crews = [(f"{crew.name}: {crew.people}", crew.where, at(crew.until, zone), crew.left) for crew in page.crews]
    rest = [
        (
            line.name,
            line.said,
            at(line.rested_at, zone),
            at(line.next_work_at, zone),
            "too early" * line.before_next_work,
        )
        for line in page.rest
    ]
    due = [(visit.job_number, visit.kind, visit.where, visit.due) for visit in page.due]
    return [
        *part("Waiting callers", ("Hears from us", "Who", "Number", "Owner"), (0.22, 0.42, 0.18, 0.18), callers),
        *part("Promises, late or within four hours", _CLOCK_HEAD, _CLOCK_SHARES, _clocks(page.soon.lines)),
        *part("Asked, no answer yet", ("Who", "For", "Next is asked at"), (0.25, 0.5, 0.25), asks),
        *part("Crews out", ("Crew", "Where", "Until", "Left"), (0.36, 0.26, 0.18, 0.2), crews),
        *part("Short of rest", ("Who", "So far", "Rested from", "Next work", ""), (0.3, 0.2, 0.18, 0.18, 0.14), rest),
        *part("Due, on nobody's route", ("Job", "Visit", "Where", "Due"), (0.14, 0.2, 0.46, 0.2), due),
    ]


def _equipment(page: HandoverSheet) -> list[Flowable]:
    zone = page.zone
    short = [(line.what, line.where) for line in page.short]
    loads = [
        (load.vehicle, load.warehouse, at(load.departs_at, zone), f"{load.loaded} of {load.wanted}")
        for load in page.loads
    ]
    doubt = [(f"{row.number} {row.model}", row.said, row.found) for row in page.doubt]
    return [
        *part("Equipment short", ("What", "Where"), (0.6, 0.4), short),
        *part("Still to be loaded", ("Vehicle", "At", "Leaves", "On of wanted"), (0.3, 0.3, 0.22, 0.18), loads),
        *part("Units in doubt", ("Unit", "The record says", "Found"), (0.34, 0.33, 0.33), doubt),
    ]


def _rest_of_it(page: HandoverSheet) -> list[Flowable]:
    zone = page.zone
    alarms = [(at(alarm.raised_at, zone), alarm.text) for alarm in page.alarms]
    words_of = [
        (at(one.at, zone), f"{one.crew} to {one.job_number or one.place}", one.what, one.reason, one.by)
        for one in page.overrides
    ]
    decided = [(at(one.at, zone), f"{one.job_number} {one.what}".strip(), one.why, one.by) for one in page.decided]
    jobs = [
        (
            f"{job.number}, {job.where}",
            f"{job.stage}, {job.units} units" if job.units else job.stage,
            job.next_visit,
            "; ".join(f"{line.kind_words} {line.due}" for line in job.promises),
        )
        for job in page.jobs
    ]
    return [
        *part("Alarms", ("Since", "What"), (0.2, 0.8), alarms),
        *part("Overridden", ("When", "Who goes", "Against", "Why", "By"), (0.14, 0.2, 0.3, 0.2, 0.16), words_of),
        *part("Decided this shift, and why", ("When", "What", "Why", "By"), (0.16, 0.36, 0.3, 0.18), decided),
        *part("Promises later on", _CLOCK_HEAD, _CLOCK_SHARES, _clocks(page.later.lines)),
        *part("Open jobs", ("Job", "Stage", "Next visit", "Promised"), (0.38, 0.2, 0.2, 0.22), jobs),
    ]


def _clocks(lines: Sequence[ClockLine]) -> list[tuple[str, str, str, str]]:
    return [(line.left, line.kind_words, f"{line.job_number} {line.place}".strip(), line.owner) for line in lines]
