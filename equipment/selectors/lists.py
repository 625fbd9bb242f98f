"""Load lists by departure, shrinking as they are scanned."""

from collections import Counter, defaultdict
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Count, Prefetch, QuerySet

from equipment.models import Condition, EquipmentModel, LoadedUnit, LoadLine, LoadList, UnitNow
from jobs.refusals import NotThere

ELSEWHERE_AT_MOST = 3


@dataclass(frozen=True)
class Ready:
    """So many ready units of a model, or at a place."""

    name: str
    count: int


@dataclass(frozen=True)
class LineView:
    """
    One line: `wanted` units for one stop, `loaded` of them scanned. `here` ready at this warehouse; where that is not
    enough, `equivalents` are other models ready here and `elsewhere` other places that have it.
    """

    id: int
    model_id: int
    model: str
    stop_order: int
    job_id: int | None
    job_number: str
    town: str
    wanted: int
    loaded: int
    lacking: int
    numbers: tuple[str, ...]
    here: int
    cannot_fill: int
    equivalents: tuple[Ready, ...]
    elsewhere: tuple[Ready, ...]


@dataclass(frozen=True)
class LoadListView:
    """One departure: its lines with the last stop first, which is loaded first."""

    id: int
    vehicle_id: int
    vehicle: str
    warehouse_id: int
    departs_at: datetime
    crew_name: str
    state: str
    wanted: int
    loaded: int
    lines: tuple[LineView, ...]

    @property
    def lacking(self) -> int:
        """Units still to be loaded."""
        return sum(line.lacking for line in self.lines)


def load_lists(*, warehouse_id: int, now: datetime, at_most: int = 40) -> tuple[LoadListView, ...]:
    """The lists of a warehouse that are open, or were loaded in the last half day, by departure. Five queries."""
    rows = LoadList.objects.filter(
        warehouse=warehouse_id,
        state__in=[LoadList.State.OPEN, LoadList.State.LOADED],
        departs_at__gt=now - timedelta(hours=12),
    ).order_by("departs_at", "id")[:at_most]
    return _views(list(_with_lines(rows)), warehouse_id)


def load_list(load_list_id: int) -> LoadListView:
    """
    One list. Five queries.

    :raises NotThere: if there is no such list.
    """
    rows = list(_with_lines(LoadList.objects.filter(pk=load_list_id)))
    if not rows:
        raise NotThere(f"There is no load list {load_list_id}. Choose one from the departures.")
    return _views(rows, rows[0].warehouse_id)[0]


def vehicle_of_list(load_list_id: int, *, warehouse_id: int) -> int:
    """
    The vehicle of one of the warehouse's lists. One query.

    :raises NotThere: if there is no such list, or it is another warehouse's.
    """
    found = LoadList.objects.filter(pk=load_list_id).values_list("vehicle_id", "warehouse_id").first()
    if found is None:
        raise NotThere(f"There is no load list {load_list_id}. Choose one from the departures.")
    if found[1] != warehouse_id:
        raise NotThere("This load list belongs to another warehouse. Choose one from the departures.")
    return found[0]


def _with_lines(rows: QuerySet[LoadList]) -> QuerySet[LoadList]:
    loaded = Prefetch("loaded", LoadedUnit.objects.select_related("unit").only("line", "unit__number"))
    lines = LoadLine.objects.select_related("model", "job").prefetch_related(loaded)
    shown = lines.only("load_list", "stop_order", "wanted", "model__name", "job__number", "job__town")
    return rows.select_related("vehicle").prefetch_related(Prefetch("lines", shown))


def _views(rows: list[LoadList], warehouse_id: int) -> tuple[LoadListView, ...]:
    models = {line.model_id for row in rows for line in row.lines.all()}
    equivalents = _equivalents(models)
    here, elsewhere = _ready(models | {pk for others in equivalents.values() for pk, _ in others}, warehouse_id)
    return tuple(_view(row, here, elsewhere, equivalents) for row in rows)


def _equivalents(model_ids: set[int]) -> dict[int, list[tuple[int, str]]]:
    """The (id, name) of each model's equivalents, in the order of the models."""
    found: dict[int, list[tuple[int, str]]] = defaultdict(list)
    pairs = EquipmentModel.equivalents.through.objects.filter(from_equipmentmodel__in=model_ids)
    other = "to_equipmentmodel"
    for model_id, pk, name in pairs.order_by(f"{other}__kind", f"{other}__code").values_list(
        "from_equipmentmodel", other, f"{other}__name"
    ):
        found[model_id].append((pk, name))
    return found


def _ready(model_ids: set[int], warehouse_id: int) -> tuple[Counter[int], dict[int, list[Ready]]]:
    """Ready units by model: at this warehouse, and at other warehouses and free aboard vehicles."""
    here: Counter[int] = Counter()
    elsewhere: dict[int, list[Ready]] = defaultdict(list)
    # A ready unit that is out on no promise counts in the stock of the place where it is.
    counted = (
        UnitNow.objects.filter(pool__model__in=model_ids, condition=Condition.READY, reservation=None)
        .exclude(pool__place__vehicle__in_workshop=True)
        .values_list("pool__model_id", "pool__place__warehouse_id", "pool__place__name")
        .annotate(count=Count("pk"))
        .order_by("-count", "pool__place__name")
    )
    for model_id, at, name, count in counted:
        if at == warehouse_id:
            here[model_id] += count
        else:
            elsewhere[model_id].append(Ready(name, count))
    return here, elsewhere


def _view(
    row: LoadList,
    here: Counter[int],
    elsewhere: dict[int, list[Ready]],
    equivalents: dict[int, list[tuple[int, str]]],
) -> LoadListView:
    lines, left = [], Counter(here)
    for line in row.lines.all():
        numbers = tuple(sorted(loaded.unit.number for loaded in line.loaded.all()))
        lacking = max(0, line.wanted - len(numbers))
        # Two lines of one model share what is here: the first to be loaded takes it first.
        cannot = max(0, lacking - left[line.model_id])
        left[line.model_id] = max(0, left[line.model_id] - lacking)
        others = tuple(Ready(name, here[pk]) for pk, name in equivalents[line.model_id] if here[pk])
        lines.append(
            LineView(
                id=line.pk,
                model_id=line.model_id,
                model=line.model.name,
                stop_order=line.stop_order,
                job_id=line.job_id,
                job_number=line.job.number if line.job else "",
                town=line.job.town if line.job else "",
                wanted=line.wanted,
                loaded=len(numbers),
                lacking=lacking,
                numbers=numbers,
                here=here[line.model_id],
                cannot_fill=cannot,
                equivalents=others if lacking else (),
                elsewhere=tuple(elsewhere[line.model_id][:ELSEWHERE_AT_MOST]) if cannot else (),
            )
        )
    return LoadListView(
        id=row.pk,
        vehicle_id=row.vehicle_id,
        vehicle=row.vehicle.name,
        warehouse_id=row.warehouse_id,
        departs_at=row.departs_at,
        crew_name=row.crew_name,
        state=row.state,
        wanted=sum(line.wanted for line in lines),
        loaded=sum(line.loaded for line in lines),
        lines=tuple(lines),
    )
