"""Where can I get it: the nearest sources of a need, by drive time to a job or a ZIP code's middle."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from dispatch.planner.problem import Place
from dispatch.planner.road import Estimated, TravelTimes
from dispatch.rules import figure
from equipment.models import EquipmentModel
from equipment.selectors import Source, Want, where_can_i_get
from equipment.selectors.sources import Spot, kind_name
from jobs import places
from jobs.models import Job
from jobs.refusals import NotThere, Unusable

MOST_SOURCES = 20


@dataclass(frozen=True)
class Choice:
    """What can be wanted: a kind's word or a model's code, and its name."""

    word: str
    name: str


@dataclass(frozen=True)
class Sources:
    """The answer: where it is needed, how drive times were found, and the sources, nearest first."""

    place: str
    job_number: str
    lat: float
    lon: float
    drive_times_from: str
    sources: tuple[Source, ...]


def choices() -> tuple[Choice, ...]:
    """The kinds that there are, then the models. One query."""
    rows = list(EquipmentModel.objects.filter(loan=None).order_by("kind", "code").values_list("kind", "code", "name"))
    kinds = [Choice(kind, f"Any {kind_name(kind)}") for kind in dict.fromkeys(kind for kind, _, _ in rows)]
    return (*kinds, *(Choice(code, name) for _, code, name in rows))


def find_sources(
    *,
    area_id: int,
    needs: Sequence[tuple[str, int]],
    now: datetime,
    job_number: str = "",
    zip_code: str = "",
    times: TravelTimes | None = None,
) -> Sources:
    """
    Sources of a need at a job, or at a ZIP code where no job is named. Nine queries.

    :param needs: (a kind's word or a model's code, how many).
    :param times: what measures the drives; without it, the planner's estimate.
    :raises Unusable: if nothing is wanted, or no place is named.
    :raises NotThere: if there is no such job, ZIP code, kind or model.
    """
    if not needs:
        raise Unusable("Say how many of which model, or of which kind, are wanted.", where="need")
    job, place, spot = _where(area_id, job_number.strip(), zip_code.strip())
    drives = Drives(spot, times or Estimated())
    found = where_can_i_get(
        area_id=area_id,
        wants=_wants(needs),
        lat=spot[0],
        lon=spot[1],
        starts_at=now,
        ends_at=now + timedelta(days=figure("first_promise_days")),
        now=now,
        drive_minutes=drives,
        not_at_job_id=job.pk if job else None,
        at_most=MOST_SOURCES,
    )
    return Sources(place, job.number if job else "", *spot, drives.source, found)


class Drives:
    """Minutes from spots to one place, and where those figures come from."""

    def __init__(self, to: Spot, times: TravelTimes) -> None:
        self._to, self._times, self.source = to, times, ""

    def __call__(self, spots: Sequence[Spot]) -> list[int]:
        """Whole minutes, rounded up."""
        different = list(dict.fromkeys(spots))
        named = [Place(id=f"from-{i}", lat=lat, lon=lon) for i, (lat, lon) in enumerate(different)]
        measured = self._times.between([*named, Place(id="here", lat=self._to[0], lon=self._to[1])])
        self.source = measured.source
        minutes = {spot: -(-measured.travel.seconds[i][-1] // 60) for i, spot in enumerate(different)}
        return [minutes[spot] for spot in spots]


def _where(area_id: int, job_number: str, zip_code: str) -> tuple[Job | None, str, Spot]:
    if job_number:
        job = Job.objects.filter(area=area_id, number__iexact=job_number).first()
        if job is None:
            raise NotThere(f"There is no job {job_number!r} here. Look at its number again.", where="job")
        return job, f"{job.number}, {job.street}, {job.town}", (job.lat, job.lon)
    if not zip_code:
        raise Unusable("Name the job, or the ZIP code, where it is needed.", where="job")
    found = places.find(zip_code=zip_code).place
    if found is None:
        raise NotThere(f"{zip_code!r} is no ZIP code that is in use. Ask for it again.", where="zip")
    return None, f"{found.town}, {found.state} {found.zip_code} (its middle)", (found.lat, found.lon)


def _wants(needs: Sequence[tuple[str, int]]) -> tuple[Want, ...]:
    known = list(EquipmentModel.objects.filter(loan=None).values_list("pk", "code", "kind"))
    codes, kinds = {code: pk for pk, code, _ in known}, {kind for _, _, kind in known}
    wants = []
    for word, count in needs:
        if word in kinds:
            wants.append(Want(count, kind=word))
        elif word in codes:
            wants.append(Want(count, model_id=codes[word]))
        else:
            raise NotThere(f"There is no equipment {word!r}. Choose a kind or a model from the list.", where="need")
    return tuple(wants)
