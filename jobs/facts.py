"""What selectors answer with: frozen, so that a page cannot query while it is drawn."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from jobs.places import Found


@dataclass(frozen=True)
class AreaLine:
    """A service area."""

    area_id: int
    code: str
    name: str
    time_zone: str
    phone: str


@dataclass(frozen=True)
class OpenCall:
    """A call that has not ended, for the desk."""

    call_id: int
    area_id: int
    started_at: datetime
    taken_by: str
    callback_number: str
    caller_name: str
    where: str
    next_contact_at: datetime | None
    owner: str
    touched_at: datetime


@dataclass(frozen=True)
class CallFacts:
    """A call as it stands. For the desk alone: it holds names, numbers, access and care."""

    call_id: int
    area: AreaLine
    started_at: datetime
    taken_by: str
    owner: str
    answers: dict[str, Any]
    versions: dict[str, int]
    rooms: tuple[dict[str, Any], ...]
    place: Found
    missing: tuple[str, ...]
    next_contact_at: datetime | None
    ended_at: datetime | None
    ended_as: str
    end_reason: str
    job_id: int | None
    job_number: str


@dataclass(frozen=True)
class JobLine:
    """A job in a list."""

    job_id: int
    number: str
    area_id: int
    stage: str
    stage_words: str
    street: str
    unit: str
    town: str
    state: str
    county: str
    time_zone: str
    lat: float
    lon: float
    category: int | None
    payer: str
    opened_at: datetime


@dataclass(frozen=True)
class RoomLine:
    """A wet room of a job, in ports.md's measures."""

    chamber: str
    name: str
    measures: dict[str, Any]


@dataclass(frozen=True)
class JobFacts:
    """A job without its private facts."""

    line: JobLine
    zip_code: str
    elevation_ft: int
    water_source: str
    running: str
    power: str
    building: str
    year_built: int | None
    dwelling_units: int
    began_at: datetime | None
    hazards: tuple[str, ...]
    language: str
    circuits: tuple[dict[str, Any], ...]
    claim_number: str
    referred_by: str
    authorized_at: datetime | None
    authorized_limits: str
    closed_at: datetime | None
    rooms: tuple[RoomLine, ...]


@dataclass(frozen=True)
class ContactLine:
    """Somebody who belongs to a job."""

    contact_id: int
    role: str
    name: str
    phone: str
    can_sign: bool
    lets_in: bool


@dataclass(frozen=True)
class Private:
    """Access and care: for the desk and the assigned crew, for the job's life."""

    access: str
    care: str
    erased_at: datetime | None


@dataclass(frozen=True)
class VisitLine:
    """A visit with enough of its job to plan it."""

    visit_id: int
    job_id: int
    job_number: str
    kind: str
    kind_words: str
    state: str
    state_words: str
    due_on: date
    window_from: datetime | None
    window_until: datetime | None
    due_at: datetime | None
    promised_start: datetime | None
    service_s: int
    needs: dict[str, Any]
    note: str
    left_at: datetime | None
    arrived_at: datetime | None
    finished_at: datetime | None
    reason: str


@dataclass(frozen=True)
class JournalLine:
    """One thing that happened."""

    kind: str
    happened_at: datetime
    recorded_at: datetime
    who: str
    data: dict[str, Any]


@dataclass(frozen=True)
class RuleLine:
    """One rule of a state as the company keeps it, with where it comes from."""

    topic: str
    value: Any
    source: str
    confidence: str
    note: str
