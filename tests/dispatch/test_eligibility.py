"""Who may be sent: the crew as a whole, the firm and the state, on the day."""

from datetime import UTC, date, datetime, timedelta

import pytest

from dispatch.eligibility import (
    CrewFacts,
    HeldCard,
    Member,
    able_to,
    skills_wanted,
    why_not_fit,
    why_not_in_state,
    why_not_skilled,
)

TODAY = date(2026, 1, 15)
STARTS = datetime(2026, 1, 16, 6, tzinfo=UTC)


def card(kind: str, state: str = "", days: int | None = 100) -> HeldCard:
    return HeldCard(kind, state, None if days is None else TODAY + timedelta(days=days))


def crew(
    cards: tuple[HeldCard, ...], helper: tuple[HeldCard, ...] | None = (), *, gvwr_lb: int = 9_000, **more: object
) -> CrewFacts:
    facts = {
        "lead": Member("Ada", cards),
        "helper": None if helper is None else Member("Ben", helper),
        "gvwr_lb": gvwr_lb,
        "vehicle_name": "Van 7",
        "vehicle_in_workshop": False,
        "starts_at": STARTS,
        "firm_states": frozenset({"OR"}),
    }
    return CrewFacts(**{**facts, **more})  # type: ignore[arg-type]


CLEAN = (card("water_technician"),)
DIRTY = (*CLEAN, card("microbial_remediation"), card("medical_clearance"), card("fit_test"))
MASK = (card("medical_clearance"), card("fit_test"))


def test_microbial_work_asks_the_helper_for_a_fit_test_too() -> None:
    with_mask, without = crew(DIRTY, MASK), crew(DIRTY, (card("medical_clearance"),))
    assert "microbial" in able_to(with_mask, on=TODAY, states=["OR"])
    assert "microbial" not in able_to(without, on=TODAY, states=["OR"])
    reason = why_not_skilled(without, ["water", "microbial"], on=TODAY)
    assert reason is not None
    assert reason.code == "skills"
    assert "Ben holds no respirator fit test" in reason.message


@pytest.mark.parametrize(("days", "able"), [(1, True), (0, True), (-1, False), (None, True)])
def test_a_card_is_good_through_its_last_day_and_lapses_at_midnight(days: int | None, able: bool) -> None:
    facts = crew((card("water_technician", days=days),))
    assert ("water" in able_to(facts, on=TODAY, states=[])) is able


def test_a_lapsed_card_is_told_with_its_last_day() -> None:
    reason = why_not_skilled(crew((card("water_technician", days=-3),)), ["water"], on=TODAY)
    assert reason is not None
    assert reason.message == "Ada's water damage technician card lapsed after Jan 12 (any water job)."


def test_a_state_credential_is_good_in_its_own_state_only() -> None:
    lead = (*CLEAN, card("lead_safe_renovator"), card("state_lead_renovator", "OR"))
    able = able_to(crew(lead, firm_cards=(card("lead_renovation_firm", "OR"),)), on=TODAY, states=["OR", "WA"])
    assert "lead_safe:OR" in able
    assert "lead_safe:WA" not in able


def test_old_paint_asks_for_lead_safe_only_above_the_threshold() -> None:
    common = {"category": 1, "drying_class": 2, "mold": False, "state": "WA"}
    assert skills_wanted(paint=False, **common) == ["water"]  # type: ignore[arg-type]
    assert skills_wanted(paint=True, **common) == ["water", "lead_safe:WA"]  # type: ignore[arg-type]
    assert skills_wanted(category=3, drying_class=4, mold=False, paint=False, state="OR") == [
        "water",
        "structural_drying",
        "microbial",
    ]


# 49 CFR 391.41 with 390.5: a driver of a vehicle rated 10,001 lb or more holds a medical card; one of the crew drives.
@pytest.mark.parametrize(
    ("gvwr_lb", "lead", "helper", "may"),
    [(10_000, (), (), True), (10_001, (), (), False), (10_001, (), ("driver_medical",), True)],
)
def test_a_heavy_vehicle_needs_one_driver_with_a_medical_card(
    gvwr_lb: int, lead: tuple[str, ...], helper: tuple[str, ...], may: bool
) -> None:
    facts = crew(tuple(map(card, lead)), tuple(map(card, helper)), gvwr_lb=gvwr_lb)
    reason = why_not_fit(facts, at=STARTS)
    assert (reason is None) is may
    if reason is not None:
        assert reason.code == "driver"


# facts.md T72 (NIOSH: at least 10 h off a day): a night call that ends at 03:00 before a shift at 08:00 is too little.
@pytest.mark.parametrize(("hours_off", "may"), [(5, False), (9.99, False), (10, True), (30, True)])
def test_ten_hours_off_are_kept_between_two_spells_of_work(hours_off: float, may: bool) -> None:
    lead = Member("Ada", CLEAN, last_worked_until=STARTS - timedelta(hours=hours_off))
    reason = why_not_fit(crew((), lead=lead), at=STARTS)
    assert (reason is None) is may
    if reason is not None:
        assert reason.code == "rest"


def test_sixteen_hours_on_duty_are_the_end() -> None:
    lead = Member("Ada", CLEAN, awake_since=STARTS - timedelta(hours=15))
    facts = crew((), lead=lead)
    assert why_not_fit(facts, at=STARTS) is None
    late = why_not_fit(facts, at=STARTS + timedelta(hours=1))
    assert late is not None
    assert late.code == "rest"


def test_the_firm_needs_its_license_in_the_state() -> None:
    facts = crew(CLEAN)
    assert why_not_in_state(facts, "OR") is None
    reason = why_not_in_state(facts, "WA")
    assert reason is not None
    assert "WA" in reason.message


def test_a_vehicle_in_the_workshop_goes_nowhere() -> None:
    reason = why_not_fit(crew(CLEAN, vehicle_in_workshop=True), at=STARTS)
    assert reason is not None
    assert reason.code == "vehicle_out"
