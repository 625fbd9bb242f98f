"""
Who may be sent: eligibility of the crew as a whole (lead and helper together), the firm and the state, on the day.

No database here: facts in, reasons out. A card lapses at midnight after its last day, in the area's zone, which is why
the day, not the time, is asked for.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from dispatch.driver_hours import may_drive
from dispatch.rules import Requirement, figure, guarded_buildings, requirements

CARD_WORDS = {
    "water_technician": "water damage technician card",
    "structural_drying": "structural drying card",
    "microbial_remediation": "microbial remediation card",
    "medical_clearance": "medical clearance for a respirator",
    "fit_test": "respirator fit test",
    "lead_safe_renovator": "lead-safe renovator card",
    "state_lead_renovator": "state lead renovation credential",
    "driver_medical": "driver medical card",
    "lead_renovation_firm": "lead renovation certification",
    "asbestos_worker": "asbestos worker accreditation",
    "site_badge": "site badge",
}


@dataclass(frozen=True)
class HeldCard:
    """A card as its holder has it; `expires_on` None never lapses, `state` "" is good everywhere."""

    kind: str
    state: str
    expires_on: date | None


@dataclass(frozen=True)
class Member:
    """One person of a crew: cards, and when the last work before this crew's hours ended."""

    name: str
    cards: tuple[HeldCard, ...]
    last_worked_until: datetime | None = None
    awake_since: datetime | None = None


@dataclass(frozen=True)
class CrewFacts:
    """What eligibility asks about a crew."""

    lead: Member
    helper: Member | None
    gvwr_lb: int
    vehicle_name: str
    vehicle_in_workshop: bool
    starts_at: datetime
    firm_states: frozenset[str]
    time_zone: str = "America/Los_Angeles"
    firm_cards: tuple[HeldCard, ...] = ()

    @property
    def members(self) -> tuple[Member, ...]:
        return (self.lead,) if self.helper is None else (self.lead, self.helper)


@dataclass(frozen=True)
class Reason:
    """
    Why a crew cannot go: a stable code and a dispatcher's sentence.

    `rule` is the key of the rule in `dispatch.rules.bars`, `who` whom it is about ("" for the crew or the firm).
    """

    code: str
    message: str
    rule: str = ""
    who: str = ""


def able_to(crew: CrewFacts, *, on: date, states: Sequence[str]) -> frozenset[str]:
    """
    The planner's skills: each kind of work that the crew may do on that day, and `work:STATE` where states differ.
    """
    found: set[str] = set()
    for work in {requirement.work for requirement in requirements()}:
        if _by_state(work):
            found |= {f"{work}:{state}" for state in states if not any(_missing(crew, work, state, on))}
        elif not any(_missing(crew, work, "", on)):
            found.add(work)
    return frozenset(found)


def skills_wanted(
    *, category: int | None, drying_class: int | None, mold: bool, paint: bool, state: str, building: str = ""
) -> list[str]:
    """
    The planner's skills that a job asks for: from its water, its class, mold, old paint to be disturbed, its building.
    """
    wanted = ["water"]
    if drying_class == 4:
        wanted.append("structural_drying")
    if category == 3 or mold:
        wanted.append("microbial")
    if paint:
        wanted.append(f"lead_safe:{state}")
    if building in guarded_buildings():
        wanted.append("site")
    return wanted


def all_reasons(crew: CrewFacts, wanted: Sequence[str], state: str, *, on: date, at: datetime) -> tuple[Reason, ...]:
    """Everything that bars the crew from this work at that moment, each once; empty if it may go."""
    found = (*_unfit(crew, at), *_unskilled(crew, wanted, on), *_out_of_state(crew, state))
    return tuple(dict.fromkeys(found))


def all_unfit(crew: CrewFacts, *, at: datetime) -> tuple[Reason, ...]:
    """Everything of vehicle and rest that bars the crew from any job at that moment; empty if it is fit."""
    return tuple(dict.fromkeys(_unfit(crew, at)))


def why_not_skilled(crew: CrewFacts, wanted: Sequence[str], *, on: date) -> Reason | None:
    """The first card that is missing for the work, with whose it is and since when; None if the crew may do it."""
    return next(_unskilled(crew, wanted, on), None)


def why_not_in_state(crew: CrewFacts, state: str) -> Reason | None:
    """Whether the firm may work in the state on the day."""
    return next(_out_of_state(crew, state), None)


def why_not_fit(crew: CrewFacts, *, at: datetime) -> Reason | None:
    """
    Vehicle and rest: what bars a crew from any job now.

    Rest is counted from the end of the last work to the start of this crew's hours, or to now if those began.
    """
    return next(_unfit(crew, at), None)


def _unskilled(crew: CrewFacts, wanted: Sequence[str], on: date) -> Iterator[Reason]:
    for skill in wanted:
        work, _, state = skill.partition(":")
        yield from _missing(crew, work, state, on)


def _out_of_state(crew: CrewFacts, state: str) -> Iterator[Reason]:
    if state not in crew.firm_states:
        yield Reason("state", f"The firm's license for {state} is missing or lapsed.", "state")


def _unfit(crew: CrewFacts, at: datetime) -> Iterator[Reason]:
    if crew.vehicle_in_workshop:
        yield Reason("vehicle_out", f"{crew.vehicle_name} is in the workshop.", "vehicle_out")
    if crew.gvwr_lb >= figure("heavy_vehicle_lb"):
        yield from _undriven(crew, at)
    for member in crew.members:
        yield from _tired(member, crew.starts_at, at)


def _undriven(crew: CrewFacts, at: datetime) -> Iterator[Reason]:
    # A card lapses at the area's midnight, not at that of UTC.
    on = crew.starts_at.astimezone(ZoneInfo(crew.time_zone)).date()
    lacking = [replace(reason, code="driver") for reason in _missing(crew, "heavy_vehicle", "", on)]
    yield from lacking
    if not lacking and not any(_has_hours_to_drive(member, crew, on, at) for member in crew.members):
        hours = figure("driving_window_hours")
        message = f"Nobody may drive {crew.vehicle_name} after {hours} hours on duty."
        yield Reason("driver_hours", message, "driver_hours")


def _tired(member: Member, starts_at: datetime, at: datetime) -> Iterator[Reason]:
    rest, most = figure("rest_hours"), figure("most_awake_hours")
    off = None if member.last_worked_until is None else _apart(member.last_worked_until, starts_at)
    if off is not None and off < timedelta(hours=rest):
        had = max(0.0, off.total_seconds() / 3600)
        message = f"{member.name} has had {had:.0f} of {rest} hours off before this shift."
        yield Reason("rest", message, "rest", member.name)
    if member.awake_since is not None and _apart(member.awake_since, at) >= timedelta(hours=most):
        yield Reason("rest", f"{member.name} has been on duty for {most} hours or more.", "awake", member.name)


def _apart(start: datetime, end: datetime) -> timedelta:
    """The real time between the two: on the nights on which clocks change, the wall clock would be an hour out."""
    return end.astimezone(UTC) - start.astimezone(UTC)


def _has_hours_to_drive(member: Member, crew: CrewFacts, on: date, at: datetime) -> bool:
    alone = replace(crew, lead=member, helper=None)
    holds_card = not any(_missing(alone, "heavy_vehicle", "", on))
    return holds_card and (member.awake_since is None or may_drive(on_duty_since=member.awake_since, at=at))


def _by_state(work: str) -> bool:
    return any(requirement.state for requirement in requirements() if requirement.work == work)


def _missing(crew: CrewFacts, work: str, state: str, on: date) -> Iterator[Reason]:
    for requirement in requirements():
        if requirement.work != work:
            continue
        if requirement.who == "firm":
            yield from _lacks((Member("The firm", crew.firm_cards),), requirement, state, on)
        elif requirement.who == "lead":
            yield from _lacks((crew.lead,), requirement, state, on)
        elif requirement.who == "all":
            yield from _lacks(crew.members, requirement, state, on)
        elif all(any(_lacks((member,), requirement, state, on)) for member in crew.members):
            yield from _lacks((crew.lead,), requirement, state, on)


def _lacks(members: Sequence[Member], requirement: Requirement, state: str, on: date) -> Iterator[Reason]:
    words = CARD_WORDS.get(requirement.card, requirement.card.replace("_", " "))
    for member in members:
        held = [
            card
            for card in member.cards
            if card.kind == requirement.card and (not requirement.state or card.state in ("", state))
        ]
        if any(card.expires_on is None or card.expires_on >= on for card in held):
            continue
        where = f" for {state}" if requirement.state and state else ""
        if held:
            last = max(card.expires_on for card in held if card.expires_on is not None)
            message = f"{member.name}'s {words}{where} lapsed after {last:%b} {last.day} ({requirement.words})."
        else:
            message = f"{member.name} holds no {words}{where} ({requirement.words})."
        yield Reason("skills", message, f"card:{requirement.card}", member.name)
