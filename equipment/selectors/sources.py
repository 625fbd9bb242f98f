"""Where can I get it: for a need and a place, the nearest sources, and what each would cost whom."""

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal

from django.db.models import Max
from geopy.distance import great_circle

from equipment.models import EquipmentModel, Holder, Pool, Unit
from equipment.reservations import book
from equipment.selectors.spare import Spare, spare_at_jobs
from equipment.stock.availability import peak_use
from jobs.refusals import NotThere, Unusable

# Roads are longer than the straight line, and vans are not fast: rough figures to rank by, no source.
ROAD_FACTOR, MILES_PER_MINUTE = 1.35, 0.6

KIND_NAMES = {
    "lgr": "low-grain dehumidifier",
    "conventional": "conventional dehumidifier",
    "desiccant": "desiccant dehumidifier",
}

Spot = tuple[float, float]
# Minutes by road from each of the spots to the place where the units are needed.
DriveMinutes = Callable[[Sequence[Spot]], Sequence[int]]


@dataclass(frozen=True)
class Want:
    """So many units of one model, or of any model of a kind; exactly one of the two is named."""

    count: int
    model_id: int | None = None
    kind: str = ""


@dataclass(frozen=True)
class Has:
    """What a source has of one want: `free` of the `wanted` units of what `name` says, and why where it is a job."""

    name: str
    wanted: int
    free: int
    why: str = ""


@dataclass(frozen=True)
class Source:
    """
    One place that has something of the need. `kind`: warehouse, vehicle, job or supplier.

    `free` units in all; `enough` for the whole need by itself; `still_short` after this source and all that are nearer
    have given theirs. `drive_min` is an estimate; None where no place is known. `costs` says what moving it takes,
    `loses` who goes without.
    """

    kind: str
    name: str
    has: tuple[Has, ...]
    free: int
    enough: bool
    still_short: int
    drive_min: int | None
    costs: str
    loses: str
    job_id: int | None = None
    vehicle_id: int | None = None
    warehouse_id: int | None = None


@dataclass
class _Place:
    """A source while it is put together: how many of each want (by its place in the need)."""

    kind: str
    name: str
    spot: Spot | None
    costs: str
    loses: str = ""
    job_id: int | None = None
    vehicle_id: int | None = None
    warehouse_id: int | None = None

    def __post_init__(self) -> None:
        self.free: Counter[int] = Counter()
        self.why: dict[int, Counter[str]] = defaultdict(Counter)


@dataclass(frozen=True)
class _Wants:
    """The need with the models that each want means."""

    wants: tuple[Want, ...]
    names: tuple[str, ...]
    models: tuple[frozenset[int], ...]
    kinds: frozenset[str]

    def met_by(self, model_id: int) -> int | None:
        """The first want that a unit of this model meets: a model by name comes before a kind."""
        found = [i for i, models in enumerate(self.models) if model_id in models]
        return min(found, key=lambda i: (self.wants[i].model_id is None, i), default=None)


def where_can_i_get(
    *,
    area_id: int,
    wants: tuple[Want, ...],
    lat: float,
    lon: float,
    starts_at: datetime,
    ends_at: datetime,
    now: datetime,
    drive_minutes: DriveMinutes | None = None,
    not_at_job_id: int | None = None,
    at_most: int = 20,
) -> tuple[Source, ...]:
    """
    The nearest sources of a need over [`starts_at`, `ends_at`), nearest first; suppliers last. Seven queries.

    :param drive_minutes: minutes by road from spots to the place; without it, a rough figure from the straight line.
    :param not_at_job_id: the job that needs it, which is no source for itself.
    :raises Unusable: if nothing is wanted, or a want names both or neither of model and kind.
    :raises NotThere: if a model or kind does not exist.
    """
    need = _read(wants)
    places = [*_pools(area_id, need, starts_at, ends_at, now), *_jobs(area_id, need, now, not_at_job_id)]
    minutes = (drive_minutes or _roughly(lat, lon))([place.spot for place in places if place.spot is not None])
    near = dict(zip([id(place) for place in places if place.spot is not None], minutes, strict=True))
    found = [_source(place, need, near.get(id(place))) for place in places]
    found.sort(key=lambda source: (source.drive_min is None, source.drive_min or 0, -source.free, source.name))
    return (*_with_rest(found, need)[:at_most], *_rental(need))


def kind_name(kind: str) -> str:
    """A kind in words."""
    return KIND_NAMES.get(kind, kind.replace("_", " "))


def _read(wants: tuple[Want, ...]) -> _Wants:
    if not wants or any((want.model_id is None) == (not want.kind) or want.count < 1 for want in wants):
        raise Unusable("Say how many of which model, or of which kind, are wanted.", where="wants")
    rows = list(EquipmentModel.objects.filter(loan=None).order_by("code"))
    models = [frozenset(row.pk for row in rows if want.model_id == row.pk or want.kind == row.kind) for want in wants]
    if missing := [want for want, found in zip(wants, models, strict=True) if not found]:
        raise NotThere(f"There is no equipment {missing[0].kind or missing[0].model_id!r}. Choose one from the list.")
    names = {row.pk: row.name for row in rows}
    return _Wants(
        wants,
        tuple(kind_name(want.kind) if want.model_id is None else names[want.model_id] for want in wants),
        tuple(models),
        frozenset(row.kind for row in rows if any(row.pk in found for found in models)),
    )


def _roughly(lat: float, lon: float) -> DriveMinutes:
    def minutes(spots: Sequence[Spot]) -> list[int]:
        return [round(great_circle(spot, (lat, lon)).miles * ROAD_FACTOR / MILES_PER_MINUTE) for spot in spots]

    return minutes


def _source(place: _Place, need: _Wants, drive_min: int | None) -> Source:
    has = tuple(
        Has(need.names[i], want.count, place.free[i], _reasons(place.why[i]))
        for i, want in enumerate(need.wants)
        if place.free[i]
    )
    return Source(
        kind=place.kind,
        name=place.name,
        has=has,
        free=sum(place.free.values()),
        enough=all(place.free[i] >= want.count for i, want in enumerate(need.wants)),
        still_short=0,
        drive_min=drive_min,
        costs=place.costs,
        loses=place.loses,
        job_id=place.job_id,
        vehicle_id=place.vehicle_id,
        warehouse_id=place.warehouse_id,
    )


def _reasons(why: Counter[str]) -> str:
    """How many for each reason, where there are several."""
    return "; ".join(reason if len(why) == 1 else f"{count}: {reason}" for reason, count in why.items())


def _with_rest(found: list[Source], need: _Wants) -> list[Source]:
    """Each source with what is still short after it and all nearer ones."""
    short = Counter[str]()
    for name, want in zip(need.names, need.wants, strict=True):
        short[name] += want.count
    told = []
    for source in found:
        for has in source.has:
            short[has.name] -= min(short[has.name], has.free)
        told.append(replace(source, still_short=short.total()))
    return told


def _pools(area_id: int, need: _Wants, starts_at: datetime, ends_at: datetime, now: datetime) -> list[_Place]:
    """Warehouses and vehicles by what of theirs is promised to nobody in the period."""
    wanted = frozenset().union(*need.models)
    rows = list(
        Pool.objects.filter(place__area=area_id, model__in=wanted, stock__gt=0)
        .exclude(place__vehicle__in_workshop=True)
        .select_related("model", "place__vehicle__home", "place__warehouse")
        .order_by("place_id", "model__code")
    )
    used = book.uses({row.pk for row in rows}, now=now, not_before=min(now, starts_at))
    places: dict[int, _Place] = {}
    given: dict[int, list[tuple[Pool, int, int]]] = defaultdict(list)
    for row in rows:
        free, want = book.usable_stock(row) - peak_use(used[row.pk], starts_at, ends_at), need.met_by(row.model_id)
        if free <= 0 or want is None:
            continue
        place = places.setdefault(row.place_id, _place_of(row.place))
        taken = min(free, max(0, need.wants[want].count - place.free[want]))
        given[row.place_id].append((row, free, taken))
        place.free[want] += free
    for place_id, place in places.items():
        place.loses = _loses(place, given[place_id])
    return list(places.values())


def _place_of(holder: Holder) -> _Place:
    if holder.vehicle is not None:
        vehicle = holder.vehicle
        at = (vehicle.lat, vehicle.lon) if vehicle.lat is not None and vehicle.lon is not None else None
        where = "by its last position" if at else f"if it stands at {vehicle.home.name}"
        return _Place(
            str(holder.kind),
            str(holder),
            at or (vehicle.home.lat, vehicle.home.lon),
            f"its crew drives there, or somebody meets it ({where})",
            vehicle_id=vehicle.pk,
        )
    warehouse = holder.warehouse
    assert warehouse is not None
    return _Place(
        str(holder.kind),
        str(holder),
        (warehouse.lat, warehouse.lon),
        f"somebody drives from there; loading takes {warehouse.load_s // 60} min",
        warehouse_id=warehouse.pk,
    )


def _loses(place: _Place, given: list[tuple[Pool, int, int]]) -> str:
    """Who goes without, where the whole need is taken from here as far as it goes."""
    if place.vehicle_id is None:
        left = ", ".join(f"{free - taken} {row.model.name}" for row, free, taken in given)
        return f"keeps for other calls: {left}"
    vehicle = given[0][0].place.vehicle
    assert vehicle is not None
    short = [
        f"{lack} {row.model.name}"
        for row, free, taken in given
        if (lack := vehicle.standing_stock.get(row.model.code, 0) - (free - taken)) > 0
    ]
    return f"short of its standing stock until restocked: {', '.join(short)}" if short else "nothing it must carry"


def _jobs(area_id: int, need: _Wants, now: datetime, not_at_job_id: int | None) -> list[_Place]:
    """Running jobs by what they no longer need."""
    places: dict[int, _Place] = {}
    for spare in spare_at_jobs(area_id=area_id, kinds=need.kinds, now=now):
        want = need.met_by(spare.model_id)
        if want is None or spare.job_id == not_at_job_id:
            continue
        place = places.setdefault(spare.job_id, _job_place(spare))
        place.free[want] += spare.count
        place.why[want][spare.why] += spare.count
    return list(places.values())


def _job_place(spare: Spare) -> _Place:
    return _Place(
        str(Holder.Kind.JOB),
        f"{spare.job_number}, {spare.town}",
        (spare.lat, spare.lon),
        "part of its pick-up is done on this drive; somebody must let you in; wipe down and check each unit",
        "nothing, if its lead agrees: ask first",
        job_id=spare.job_id,
    )


def _rental(need: _Wants) -> list[Source]:
    """Suppliers that have rented us such a model before, by the highest rent paid; only they know what they have."""
    rows = (
        Unit.objects.filter(model__in=frozenset().union(*need.models), rented=True)
        .exclude(supplier="")
        .values_list("supplier", "model_id")
        .annotate(rent=Max("daily_cost"))
        .order_by("supplier", "model_id")[:200]
    )
    by_supplier: dict[str, dict[int, Decimal | None]] = defaultdict(dict)
    for supplier, model_id, rent in rows:
        by_supplier[supplier][model_id] = rent
    return [
        _source(_Place(str(Holder.Kind.SUPPLIER), name, None, _rent(rents.values())), need, None)
        for name, rents in sorted(by_supplier.items())
    ]


def _rent(rents: Iterable[Decimal | None]) -> str:
    known = [rent for rent in rents if rent is not None]
    paid = f"we paid up to ${max(known):.2f} a day for each" if known else "a day's rent for each"
    return f"{paid}; call to ask what they have and when it can be fetched"
