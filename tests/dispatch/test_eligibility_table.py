"""
Who may go: a table of lead, helper, firm, state, work and hours, with the expected reason and the law beside each.

Sources: 29 CFR 1910.134; 40 CFR 745; 49 CFR 390.5, 391.41, 395.1(e), 395.3; 15 U.S.C. 260a; NIOSH (10 h off a day);
facts.md T68, T69, T72; "practice" is common practice without a source.
"""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from dispatch.driver_hours import is_short_haul
from dispatch.eligibility import (
    CrewFacts,
    HeldCard,
    Member,
    all_reasons,
    skills_wanted,
    why_not_fit,
    why_not_in_state,
    why_not_skilled,
)
from dispatch.rules import bars

PACIFIC, MOUNTAIN = "America/Los_Angeles", "America/Boise"  # Malheur County, Oregon, keeps Mountain Time
DAY = date(2026, 1, 15)
NAMES = {
    "W": "water_technician", "S": "structural_drying", "M": "microbial_remediation", "c": "medical_clearance",
    "f": "fit_test", "R": "lead_safe_renovator", "OR": "state_lead_renovator", "WA": "state_lead_renovator",
    "D": "driver_medical", "B": "site_badge", "AO": "asbestos_worker", "AW": "asbestos_worker",
}  # fmt: skip


def cards(short: str) -> tuple[HeldCard, ...]:
    """`W f-1 OR+0` = water card without end, fit test that lapsed yesterday, Oregon's credential until today."""
    held = []
    for word in short.split():
        name = word.rstrip("+-0123456789")
        days = word.removeprefix(name)
        state = {"OR": "OR", "WA": "WA", "AO": "OR", "AW": "WA"}.get(name, "")
        held.append(HeldCard(NAMES[name], state, DAY + timedelta(days=int(days)) if days else None))
    return tuple(held)


def certified(firm: str) -> tuple[HeldCard, ...]:
    """`OR` = licensed and certified for lead work there, `OR-1` = certified until yesterday, `OR!` = licensed only."""
    words = [word for word in firm.split() if not word.endswith("!")]
    until = {word[:2]: DAY + timedelta(days=int(word[2:])) if word[2:] else None for word in words}
    return tuple(HeldCard("lead_renovation_firm", state, day) for state, day in until.items())


def crew(lead: str, helper: str | None, firm: str = "OR WA", /, **more: object) -> CrewFacts:
    facts: dict[str, object] = {
        "lead": Member("Ada", cards(lead)),
        "helper": None if helper is None else Member("Ben", cards(helper)),
        "gvwr_lb": 9_000,
        "vehicle_name": "Van 7",
        "vehicle_in_workshop": False,
        "starts_at": datetime(2026, 1, 15, 20, tzinfo=UTC),
        "firm_states": frozenset(word[:2] for word in firm.split()),
        "firm_cards": certified(firm),
    }
    return CrewFacts(**{**facts, **more})  # type: ignore[arg-type]


def work(short: str, state: str) -> list[str]:
    """`1`, `2`, `3`: the category; `4`: class 4; `mold`; `paint`; `asbestos`; else the building."""
    words = short.split()
    category = next((int(word) for word in words if word in "123"), None)
    building = next((word for word in words if word in ("school", "clinic", "house", "office")), "")
    wanted = skills_wanted(
        category=category, drying_class=4 if "4" in words else 2, mold="mold" in words, paint="paint" in words,
        state=state, building=building,
    )  # fmt: skip
    return [*wanted, f"asbestos:{state}"] if "asbestos" in words else wanted


FULL = "W S M c f R OR WA"
# lead, helper, firm, state, work, in the reason ("" = may go), source
WORK = [
    ("W", None, "OR WA", "WA", "1", "", "practice: one water technician on each water job"),
    ("W", "", "OR WA", "OR", "2", "", "practice"),
    ("", None, "OR WA", "WA", "1", "Ada holds no water damage technician card", "practice"),
    ("", "W", "OR WA", "WA", "1", "Ada holds no water damage technician card", "practice: the lead holds it"),
    ("W+0", None, "OR WA", "WA", "1", "", "lapses at midnight after its last day"),
    ("W+1", None, "OR WA", "WA", "1", "", "lapses at midnight after its last day"),
    ("W-1", None, "OR WA", "WA", "1", "Ada's water damage technician card lapsed after Jan 14", "lapsed at midnight"),
    ("W-1 W+9", None, "OR WA", "WA", "1", "", "a newer card stands beside the lapsed one"),
    ("W", None, "WA", "WA", "1", "", "practice: the firm's license by state"),
    ("W", None, "WA", "OR", "1", "The firm's license for OR", "practice: the firm's license by state"),
    ("W", None, "", "WA", "1", "The firm's license for WA", "practice: the firm's license by state"),
    ("W", None, "OR WA", "ID", "1", "The firm's license for ID", "practice: the firm's license by state"),
    ("W", None, "OR WA", "WA", "1 4", "Ada holds no structural drying card", "practice"),
    ("W S", None, "OR WA", "WA", "1 4", "", "practice"),
    ("W S-1", "S", "OR WA", "WA", "1 4", "Ada's structural drying card lapsed", "practice: the lead holds it"),
    ("W S+0", "", "OR WA", "WA", "2 4", "", "practice"),
    ("W", None, "OR WA", "WA", "3", "Ada holds no microbial remediation card", "practice"),
    ("W M c f", None, "OR WA", "WA", "3", "", "29 CFR 1910.134(e), (f)"),
    ("W M c f", "c f", "OR WA", "WA", "3", "", "29 CFR 1910.134(e), (f)"),
    ("W M c f", "c", "OR WA", "WA", "3", "Ben holds no respirator fit test", "29 CFR 1910.134(f)"),
    ("W M c f", "f", "OR WA", "WA", "3", "Ben holds no medical clearance", "29 CFR 1910.134(e)"),
    ("W M c f", "", "OR WA", "WA", "3", "Ben holds no medical clearance", "29 CFR 1910.134(e)"),
    ("W M c", "c f", "OR WA", "WA", "3", "Ada holds no respirator fit test", "29 CFR 1910.134(f)"),
    ("W M f", "c f", "OR WA", "WA", "3", "Ada holds no medical clearance", "29 CFR 1910.134(e)"),
    ("W M c f+0", "c f", "OR WA", "WA", "3", "", "29 CFR 1910.134(f)(2): yearly; good on its last day"),
    ("W M c f-1", "c f", "OR WA", "WA", "3", "Ada's respirator fit test lapsed", "29 CFR 1910.134(f)(2)"),
    ("W M c f", "c f-1", "OR WA", "WA", "3", "Ben's respirator fit test lapsed", "29 CFR 1910.134(f)(2)"),
    ("W M c f", "c-1 f", "OR WA", "WA", "3", "Ben's medical clearance", "29 CFR 1910.134(e)"),
    ("W c f", "M c f", "OR WA", "WA", "3", "Ada holds no microbial remediation card", "practice: the lead holds it"),
    ("W M-30 c f", "c f", "OR WA", "WA", "3", "Ada's microbial remediation card lapsed", "practice"),
    ("W", None, "OR WA", "OR", "1 mold", "Ada holds no microbial remediation card", "practice"),
    ("W M c f", "c f", "OR WA", "OR", "1 mold", "", "practice"),
    ("W M c f", "c f", "OR WA", "OR", "3 4", "Ada holds no structural drying card", "practice"),
    ("W S M c f", "c f", "OR WA", "OR", "3 4", "", "practice"),
    ("W", None, "OR WA", "WA", "1 paint", "Ada holds no lead-safe renovator card", "40 CFR 745.90"),
    ("W R", None, "OR WA", "WA", "1 paint", "Ada holds no state lead renovation credential for WA", "state"),
    ("W R WA", None, "OR WA", "WA", "1 paint", "", "40 CFR 745.90 and the state's program"),
    ("W R WA", None, "OR WA", "OR", "1 paint", "Ada holds no state lead renovation credential for OR", "state"),
    ("W R OR", None, "OR WA", "OR", "1 paint", "", "40 CFR 745.90 and the state's program"),
    (
        "W R OR-1",
        None,
        "OR WA",
        "OR",
        "1 paint",
        "Ada's state lead renovation credential for OR lapsed",
        "state program",
    ),
    ("W R-1 OR", None, "OR WA", "OR", "1 paint", "Ada's lead-safe renovator card lapsed", "40 CFR 745.90(a)(4)"),
    (
        "W OR",
        "R",
        "OR WA",
        "OR",
        "1 paint",
        "Ada holds no lead-safe renovator card",
        "40 CFR 745.90: the lead holds it",
    ),
    ("W R OR", None, "WA", "OR", "1 paint", "The firm holds no lead renovation certification for OR", "40 CFR 745.89"),
    ("W R OR", None, "OR! WA", "OR", "1 paint", "The firm holds no lead renovation certification", "40 CFR 745.89"),
    (
        "W R OR",
        None,
        "OR-1 WA",
        "OR",
        "1 paint",
        "The firm's lead renovation certification for OR lapsed after Jan 14",
        "40 CFR 745.89",
    ),
    ("W R OR", None, "OR+0 WA", "OR", "1 paint", "", "40 CFR 745.89: good on its last day"),
    ("W R OR", None, "OR! WA", "OR", "1", "", "40 CFR 745.89 asks for nothing where no paint is disturbed"),
    ("W R WA", "", "OR! WA", "WA", "1 paint", "", "40 CFR 745.89: Washington's certification for Washington's job"),
    ("W", None, "OR WA", "OR", "1 school", "Ada holds no site badge", "practice: background checks at schools"),
    ("W B", "", "OR WA", "OR", "1 school", "", "practice: the helper goes in with the lead"),
    ("W B-1", "B", "OR WA", "WA", "1 clinic", "Ada's site badge lapsed after Jan 14", "practice: the lead holds it"),
    ("W B+0", None, "OR WA", "WA", "1 clinic", "", "practice: good on its last day"),
    ("W", None, "OR WA", "OR", "1 office", "", "practice: an office asks for none"),
    ("W AO", "", "OR WA", "OR", "1 asbestos", "Ben holds no asbestos worker accreditation for OR", "29 CFR 1926.1101"),
    ("W AO", "AO", "OR WA", "OR", "1 asbestos", "", "29 CFR 1926.1101"),
    (
        "W AO",
        "AW",
        "OR WA",
        "OR",
        "1 asbestos",
        "Ben holds no asbestos worker accreditation for OR",
        "state's own list",
    ),
    ("W AO-1", None, "OR WA", "OR", "1 asbestos", "Ada's asbestos worker accreditation for OR lapsed", "1926.1101"),
    (FULL, FULL, "OR WA", "OR", "3 4 mold paint", "", "all of the above"),
    (FULL, "", "OR WA", "OR", "3 4 mold paint", "Ben holds no medical clearance", "29 CFR 1910.134(e)"),
]


@pytest.mark.parametrize(("lead", "helper", "firm", "state", "wanted", "reason", "source"), WORK)
def test_the_cards_of_the_crew_and_the_firm(
    lead: str, helper: str | None, firm: str, state: str, wanted: str, reason: str, source: str
) -> None:
    facts = crew(lead, helper, firm)
    why = why_not_skilled(facts, work(wanted, state), on=DAY) or why_not_in_state(facts, state)
    assert (why.message if why else "")[: len(reason) or None] == reason, source


def at(zone: str, text: str) -> datetime:
    return datetime.fromisoformat(f"2026-{text}").replace(tzinfo=ZoneInfo(zone))


# zone, last work ended, shift starts, asked at, on duty since, GVWR, lead, helper, code, source
HOURS = [
    (PACIFIC, "01-15T03:00", "01-15T08:00", "01-15T08:00", None, 9_000, "W", None, "rest", "T72: NIOSH, 10 h off"),
    (PACIFIC, "01-14T22:00", "01-15T08:00", "01-15T08:00", None, 9_000, "W", None, None, "NIOSH: exactly 10 h off"),
    (PACIFIC, "01-14T22:01", "01-15T08:00", "01-15T08:00", None, 9_000, "W", None, "rest", "NIOSH: a minute short"),
    (PACIFIC, "03-07T22:30", "03-08T08:30", "03-08T08:30", None, 9_000, "W", None, "rest", "260a: 9 real hours"),
    (PACIFIC, "03-07T21:30", "03-08T08:30", "03-08T08:30", None, 9_000, "W", None, None, "260a: 10 real hours"),
    (PACIFIC, "10-31T23:00", "11-01T08:00", "11-01T08:00", None, 9_000, "W", None, None, "260a: 10 real hours"),
    (MOUNTAIN, "10-31T23:30", "11-01T08:00", "11-01T08:00", None, 9_000, "W", None, "rest", "260a: 9.5 real hours"),
    (MOUNTAIN, "03-07T22:30", "03-08T08:30", "03-08T08:30", None, 9_000, "W", None, "rest", "260a: 9 real hours"),
    (PACIFIC, None, "01-15T06:00", "01-15T21:59", "01-15T06:00", 9_000, "W", None, None, "practice: under 16 h"),
    (PACIFIC, None, "01-15T06:00", "01-15T22:00", "01-15T06:00", 9_000, "W", None, "rest", "practice: 16 h awake"),
    (PACIFIC, None, "10-31T12:00", "11-01T03:00", "10-31T12:00", 9_000, "W", None, "rest", "260a: 16 real hours"),
    (PACIFIC, None, "03-07T12:00", "03-08T04:00", "03-07T12:00", 9_000, "W", None, None, "260a: 15 real hours"),
    (PACIFIC, None, "01-15T06:00", "01-15T20:00", "01-15T06:00", 12_000, "W D", None, None, "T68: 49 CFR 395.3(a)(2)"),
    (PACIFIC, None, "01-15T06:00", "01-15T20:01", "01-15T06:00", 12_000, "W D", None, "driver_hours", "T68"),
    (PACIFIC, None, "01-15T06:00", "01-15T20:01", "01-15T06:00", 10_000, "W", None, None, "T68: 49 CFR 390.5, light"),
    (PACIFIC, None, "01-15T06:00", "01-15T20:01", "01-15T06:00", 12_000, "W", "D", None, "T68: the helper drives"),
    (PACIFIC, None, "01-15T06:00", "01-15T07:00", None, 10_001, "W", None, "driver", "49 CFR 391.41"),
    (PACIFIC, None, "01-15T06:00", "01-15T07:00", None, 10_001, "W", "D", None, "49 CFR 391.41: one of them drives"),
    (PACIFIC, None, "01-15T06:00", "01-15T07:00", None, 10_000, "W", None, None, "49 CFR 390.5: below 10,001 lb"),
    (PACIFIC, None, "01-15T22:00", "01-15T22:00", None, 10_001, "W D+0", None, None, "391.41: its day, in the area"),
    (PACIFIC, None, "01-16T00:00", "01-16T00:00", None, 10_001, "W D+0", None, "driver", "391.41: after midnight"),
    (MOUNTAIN, None, "01-15T23:30", "01-15T23:30", None, 10_001, "W D+0", None, None, "391.41: its day in Malheur"),
    (
        MOUNTAIN,
        None,
        "01-16T00:30",
        "01-16T00:30",
        None,
        10_001,
        "W D+0",
        None,
        "driver",
        "391.41: the day after there",
    ),
    (MOUNTAIN, "10-31T21:59", "11-01T07:00", "11-01T07:00", None, 9_000, "W", None, None, "260a: 10 h and a minute"),
    (PACIFIC, "11-01T00:30", "11-01T09:30", "11-01T09:30", None, 9_000, "W", None, None, "260a: 10 real hours of 9"),
    (PACIFIC, None, "03-07T14:00", "03-08T05:00", "03-07T14:00", 12_000, "W D", None, None, "395.3: 14 real hours"),
    (PACIFIC, None, "03-07T14:00", "03-08T05:01", "03-07T14:00", 12_000, "W D", None, "driver_hours", "395.3, 260a"),
    (PACIFIC, None, "10-31T12:00", "11-01T01:01", "10-31T12:00", 12_000, "W D", None, None, "395.3: first 1:01 of two"),
    (PACIFIC, None, "10-31T12:00", "11-01T02:01", "10-31T12:00", 12_000, "W D", None, "driver_hours", "395.3, 260a"),
    (
        PACIFIC,
        None,
        "01-15T18:00",
        "01-16T00:00",
        "01-15T08:00",
        9_000,
        "W",
        None,
        "rest",
        "practice: 16 h at midnight",
    ),
    (PACIFIC, None, "01-15T18:00", "01-15T23:59", "01-15T08:00", 9_000, "W", None, None, "practice: a minute before"),
    (PACIFIC, "01-15T23:00", "01-16T00:00", "01-16T00:00", None, 9_000, "W", None, "rest", "NIOSH: across midnight"),
]


@pytest.mark.parametrize(
    ("zone", "ended", "starts", "asked", "awake", "gvwr_lb", "lead", "helper", "code", "source"), HOURS
)
def test_hours_rest_and_driving(
    zone: str,
    ended: str | None,
    starts: str,
    asked: str,
    awake: str | None,
    gvwr_lb: int,
    lead: str,
    helper: str | None,
    code: str | None,
    source: str,
) -> None:
    facts = crew(
        lead,
        helper,
        lead=Member("Ada", cards(lead), at(zone, ended) if ended else None, at(zone, awake) if awake else None),
        gvwr_lb=gvwr_lb,
        starts_at=at(zone, starts),
        time_zone=zone,
    )
    # As the database gives times, and as a wall clock does: the answer is the same.
    for moment in (at(zone, asked), at(zone, asked).astimezone(UTC)):
        why = why_not_fit(facts, at=moment)
        assert (why.code if why else None) == code, source


@pytest.mark.parametrize(
    ("air_miles", "back", "short"),
    [(140, "01-15T19:59", True), (160, "01-15T19:59", False), (140, "01-15T20:01", False)],
)
def test_a_short_haul_needs_no_log(air_miles: float, back: str, short: bool) -> None:
    """T69: 49 CFR 395.1(e)(1): 150 air miles, back and released within 14 hours."""
    left = at(PACIFIC, "01-15T06:00")
    assert is_short_haul(farthest_air_miles=air_miles, left_at=left, released_at=at(PACIFIC, back)) is short


def test_a_card_lapses_at_the_midnight_of_the_areas_zone() -> None:
    """At half past midnight in Malheur County it is still the day before on the coast."""
    moment = at(MOUNTAIN, "01-16T00:30")
    days = [moment.astimezone(ZoneInfo(zone)).date() for zone in (PACIFIC, MOUNTAIN)]
    facts = crew("W+0", None)
    assert [why_not_skilled(facts, ["water"], on=on) is None for on in days] == [True, False]


def test_all_reasons_are_told_each_with_its_rule_and_whom_it_is_about() -> None:
    tired = Member("Ben", (), last_worked_until=at(PACIFIC, "01-15T03:00"))
    facts = crew("W", None, "WA", helper=tired, starts_at=at(PACIFIC, "01-15T08:00"), gvwr_lb=12_000)
    found = all_reasons(facts, work("3", "OR"), "OR", on=DAY, at=at(PACIFIC, "01-15T08:00"))
    assert [(reason.rule, reason.who) for reason in found] == [
        ("card:driver_medical", "Ada"), ("rest", "Ben"), ("card:microbial_remediation", "Ada"),
        ("card:medical_clearance", "Ada"), ("card:medical_clearance", "Ben"),
        ("card:fit_test", "Ada"), ("card:fit_test", "Ben"), ("state", ""),
    ]  # fmt: skip
    assert all(reason.rule in bars() for reason in found)


def test_the_table_is_long_enough() -> None:
    assert len(WORK) + len(HOURS) >= 60
