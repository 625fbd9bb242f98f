"""
Where a crew was last: at what it reported, or where its phone was, whichever is newer, always with its age.

A phone's position comes only from a lead who lets it, with their reports, within the hours of their crew. One is kept
for each crew; `jobs/retention.toml` says for how long.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from django.contrib.auth.models import User
from geopy.distance import great_circle

from dispatch.models import Crew, PhonePosition, Stop
from jobs import retention
from jobs.happened import when
from jobs.models import UseCaseCall
from jobs.refusals import Refusal, Unusable
from jobs.use_case import use_case

# A phone that knows less well where it is than this says nothing (trade practice: a mile is the next neighborhood).
WORST_ACCURACY_M = 2_000
# On the way to the warehouse and back home somebody is at work already.
AROUND_HOURS = timedelta(hours=1)
# Nearer than this to a place, the crew is at it (from memory: a phone's position between houses is no better).
NEAR_MILES = 0.2
_MINUTE = timedelta(minutes=1)


class NotAtWork(Refusal):
    """A phone's position is kept within the hours of its lead's crew only."""

    code = "not_at_work"
    status = 409


@dataclass(frozen=True)
class Step:
    """One stop as far as it went: its place in words and on the map; when the crew left for it, came and was done."""

    place: str
    lat: float
    lon: float
    left_at: datetime | None
    arrived_at: datetime | None
    finished_at: datetime | None


@dataclass(frozen=True)
class LastKnown:
    """Where a crew was last, in words and on the map, since when, and how many minutes ago."""

    place: str
    lat: float
    lon: float
    at: datetime
    age_min: int
    by_phone: bool = False

    @property
    def age(self) -> str:
        """The age in words."""
        if self.age_min < 1:
            return "just now"
        hours, minutes = divmod(self.age_min, 60)
        return f"{hours} h {minutes} min ago" if hours else f"{minutes} min ago"


@dataclass(frozen=True)
class PositionTold:
    """Whether this position is the newest of its crew now."""

    crew_id: int
    at: datetime
    newest: bool


@dataclass(frozen=True)
class PositionForgotten:
    """How many positions were erased."""

    erased: int


@use_case("tell_position", private=("lat", "lon", "accuracy_m"))
def tell_position(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    lat: float,
    lon: float,
    accuracy_m: float,
    happened_at: datetime | None = None,
) -> PositionTold:
    """
    Keep where the lead's phone was, for the crew that they led at that time.

    :raises Unusable: if that is no place on earth, or known too badly.
    :raises NotAtWork: if they led no crew at that time.
    """
    at = when(happened_at, now)
    if not (-90 <= lat <= 90 and -180 <= lon <= 180):
        raise Unusable("Latitude lies between -90 and 90, longitude between -180 and 180.", where="lat")
    if not 0 <= accuracy_m <= WORST_ACCURACY_M:
        raise Unusable(
            f"The phone knows its place no better than {WORST_ACCURACY_M} m: it is not kept. Your report was.",
            where="accuracy_m",
        )
    around = Crew.objects.filter(
        lead__user=actor, starts_at__lte=at + AROUND_HOURS, at_latest__gt=at - AROUND_HOURS
    ).order_by("starts_at")
    crews = list(around)
    if not crews:
        raise NotAtWork("You lead no crew at this time, so the phone's position is not kept. Nothing is to be done.")
    crew = next((crew for crew in crews if crew.starts_at <= at < crew.at_latest), crews[0])
    told = {"told_by": actor, "lat": lat, "lon": lon, "accuracy_m": accuracy_m, "at": at}
    row, new = PhonePosition.objects.select_for_update().get_or_create(crew=crew, defaults=told)
    if not new and row.at < at:
        PhonePosition.objects.filter(pk=row.pk).update(**told)
    return PositionTold(crew.pk, at, newest=new or row.at <= at)


@use_case("forget_position")
def forget_position(*, key: UUID, actor: User, now: datetime) -> PositionForgotten:
    """Erase every position that the lead's phone has told, and what the recorded requests hold of it."""
    rows = PhonePosition.objects.filter(told_by=actor)
    told = UseCaseCall.objects.filter(verb="tell_position", actor=actor, private_arguments__isnull=False)
    told.update(private_arguments=None)
    return PositionForgotten(rows.delete()[0])


def kept_words() -> str:
    """For how long a position is kept in this installation."""
    days = retention.in_force()["positions"].days
    return "a day" if days == 1 else f"{days} days"


def steps_of(stops: Sequence[Stop]) -> tuple[Step, ...]:
    """What the rows of a route say of where the crew was; their jobs were read with them."""
    return tuple(
        Step(f"{job.number} in {job.town}", job.lat, job.lon, visit.left_at, visit.arrived_at, visit.finished_at)
        for visit, job in ((stop.visit, stop.visit.job) for stop in stops)
    )


def last_known(*, crew: Crew, steps: Sequence[Step], now: datetime) -> LastKnown | None:
    """The newest of what the crew reported and where its phone was; None before either. The crew comes with both."""
    reported = _reported(crew, steps, now)
    phone: PhonePosition | None = getattr(crew, "phone_position", None)
    if phone is None or (reported is not None and reported.at >= phone.at):
        return reported
    return LastKnown(_near(phone, crew, steps), phone.lat, phone.lon, phone.at, _age(phone.at, now), by_phone=True)


def _reported(crew: Crew, steps: Sequence[Step], now: datetime) -> LastKnown | None:
    said: list[tuple[datetime, str, Step | None]] = []
    for step in steps:
        words = (
            (step.left_at, f"on the way to {step.place}", None),
            (step.arrived_at, f"at {step.place}", step),
            (step.finished_at, f"done at {step.place}", step),
        )
        said += [(at, word, where) for at, word, where in words if at is not None]
    if not said:
        return None
    # Sorting is stable: of two words at one moment, the later step of the later stop is the last.
    said.sort(key=lambda row: row[0])
    at, place, _ = said[-1]
    # On the way somewhere, the last place that is known is where the crew came from.
    where = next((step for _, _, step in reversed(said) if step is not None), crew.start)
    return LastKnown(place, where.lat, where.lon, at, _age(at, now))


def _near(phone: PhonePosition, crew: Crew, steps: Sequence[Step]) -> str:
    """In words, by the nearest place that the reader knows."""
    known = [(crew.start.name, crew.start.lat, crew.start.lon), *((step.place, step.lat, step.lon) for step in steps)]
    miles, name = min((great_circle((phone.lat, phone.lon), (lat, lon)).miles, name) for name, lat, lon in known)
    return f"{miles:.1f} mi from {name}, by the phone" if miles >= NEAR_MILES else f"at {name}, by the phone"


def _age(at: datetime, now: datetime) -> int:
    return max(0, int((now - at) / _MINUTE))
