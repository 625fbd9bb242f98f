"""What each page of the warehouse shows, as frozen dataclasses."""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from uuid import UUID, uuid4
from zoneinfo import ZoneInfo

from django.contrib.auth.models import User

from equipment import selectors
from equipment.custody import Received
from equipment.custody.answers import Scan
from equipment.models import EquipmentModel, Vehicle, Warehouse
from equipment.selectors.availability import Aboard
from jobs.refusals import NotThere, Refusal
from jobs.selectors import area_ids_of

RIGHT, CAUTION, WRONG = "right", "caution", "wrong"
UNSEEN = timedelta(days=7)
# The pages of every hour stand open in the frame; the others are behind "More".
ALWAYS_SHOWN = frozenset({"departures", "returns", "cleaning", "counting", "find"})


@dataclass(frozen=True)
class Place:
    """The warehouse that the page is about."""

    id: int
    code: str
    name: str
    area_id: int
    zone: ZoneInfo


def places(viewer: User) -> tuple[Place, ...]:
    """The warehouses of the viewer's areas. One query beside that of the viewer's roles."""
    rows = Warehouse.objects.select_related("area").order_by("name")
    areas = area_ids_of(viewer)
    if areas is not None:
        rows = rows.filter(area__in=areas)
    return tuple(Place(row.pk, row.code, row.name, row.area_id, row.area.zone) for row in rows)


def place(code: str, viewer: User) -> Place:
    """
    :raises NotThere: if the viewer has no such warehouse.
    """
    return place_among(places(viewer), code)


def place_among(there: tuple[Place, ...], code: str) -> Place:
    """
    :raises NotThere: if none of them has this code.
    """
    found = next((one for one in there if one.code == code), None)
    if found is None:
        raise NotThere(f"You have no warehouse {code!r}. Choose one from the list.")
    return found


@dataclass(frozen=True)
class Said:
    """The answer to the last scan: a shape, one word, a sentence, and what can be taken back."""

    shape: str
    word: str
    sentence: str
    caution: str = ""
    undo: int | None = None
    code: str = ""


WORD = {
    "loaded": "Loaded",
    "equivalent": "Loaded in place of another model",
    "not_on_list": "Loaded, not on the list",
    "already_there": "Already there",
    "back": "In",
    "held_back": "In: keep it apart",
    "undone": "Taken back",
    "corrected": "Corrected",
    "placed": "Moved there",
    "ready": "Ready",
    "broken": "Needs repair",
    "not_yet_cleaned": "To be cleaned",
    "sent": "Sent",
    "received": "Received",
    "not_found": "Written down as not found",
    "found": "Counted, found here",
    "seen_since": "Scanned since, not missing",
    "named": "Written down",
    "rented_in": "Rented in",
    "called_off": "Called off",
}


def said_of(scans: tuple[Scan, ...]) -> Said:
    """What to say of one or several scans; the last one can be taken back."""
    last = scans[-1]
    attention = [scan for scan in scans if scan.caution or scan.word in {"not_on_list", "already_there", "equivalent"}]
    shown = attention[-1] if attention else last
    word = WORD.get(shown.word, shown.word)
    if len(scans) > 1:
        word = f"{word} · {len(scans)} units"
    moved = [scan for scan in scans if scan.move_id is not None and scan.word != "undone"]
    return Said(
        CAUTION if attention else RIGHT,
        f"{shown.number} {word}",
        f"{shown.model}: {shown.said}.",
        " ".join(dict.fromkeys(scan.caution for scan in attention if scan.caution)),
        moved[-1].move_id if moved else None,
    )


def said_of_receipt(received: Received) -> Said:
    """What to say of units that arrived: how many are still missing of what was sent, the first of them by number."""
    said = said_of(received.scans)
    if not received.missing:
        return replace(said, sentence=f"{said.sentence} Everything that was sent here has arrived.")
    named = ", ".join(received.missing[:6]) + (" and more" if len(received.missing) > 6 else "")
    return replace(said, sentence=f"{said.sentence} Still missing: {named}.")


def said_no(refusal: Refusal) -> Said:
    """What to say of a refusal."""
    word = {"not_decontaminated": "Stop", "unit_unknown": "Not known", "already_there": "Already there"}
    return Said(WRONG, word.get(refusal.code, "Not done"), refusal.message, code=refusal.code)


@dataclass(frozen=True)
class Standing:
    """One model of a vehicle's standing stock: what it should always carry against what is free aboard."""

    model: str
    should: int
    aboard: int
    here: int

    @property
    def missing(self) -> int:
        """Units to be loaded."""
        return max(0, self.should - self.aboard)

    @property
    def cannot_fill(self) -> int:
        """Units that this warehouse cannot give."""
        return max(0, self.missing - max(0, self.here))


@dataclass(frozen=True)
class VehicleLine:
    """One vehicle at home here, and how many units it lacks of its standing stock."""

    code: str
    name: str
    in_workshop: bool
    missing: int


@dataclass(frozen=True)
class DeparturesPage:
    """The room's first page."""

    lists: tuple[selectors.LoadListView, ...]
    vehicles: tuple[VehicleLine, ...]
    alarms: tuple[selectors.AlarmView, ...]
    discrepancies: tuple[selectors.DiscrepancyView, ...]
    awaiting_numbers: tuple[selectors.FastCountView, ...]


def departures_page(there: Place, *, now: datetime) -> DeparturesPage:
    """Load lists by departure, vehicles short of their standing stock, what must be looked at. Eleven queries."""
    aboard: dict[int, list[Aboard]] = {}
    for row in selectors.aboard(area_id=there.area_id):
        aboard.setdefault(row.vehicle_id, []).append(row)
    vehicles = []
    for vehicle in Vehicle.objects.filter(home=there.id).order_by("name"):
        ready = {row.model_code: row.ready for row in aboard.get(vehicle.pk, [])}
        missing = sum(max(0, n - ready.get(code, 0)) for code, n in vehicle.standing_stock.items())
        vehicles.append(VehicleLine(vehicle.code, vehicle.name, vehicle.in_workshop, missing))
    return DeparturesPage(
        selectors.load_lists(warehouse_id=there.id, now=now),
        tuple(vehicles),
        selectors.open_alarms(area_id=there.area_id, at_most=10),
        selectors.open_discrepancies(area_id=there.area_id, at_most=10),
        selectors.fast_counts(warehouse_id=there.id, at_most=10),
    )


@dataclass(frozen=True)
class RestockPage:
    """One vehicle against its standing stock."""

    vehicle_id: int
    vehicle: str
    in_workshop: bool
    lines: tuple[Standing, ...]


def restock_page(there: Place, vehicle_code: str, *, now: datetime) -> RestockPage:
    """
    Six queries.

    :raises NotThere: if the area has no such vehicle.
    """
    vehicle = Vehicle.objects.filter(code=vehicle_code, area=there.area_id).first()
    if vehicle is None:
        raise NotThere(f"There is no vehicle {vehicle_code!r} here. Choose one from the list.")
    names = {model.code: model.name for model in EquipmentModel.objects.filter(code__in=list(vehicle.standing_stock))}
    ready = {row.model_code: row.ready for row in selectors.aboard(area_id=there.area_id, vehicle_id=vehicle.pk)}
    free = {
        row.model_code: row.free
        for row in selectors.availability(area_id=there.area_id, now=now)
        if row.warehouse_id == there.id
    }
    lines = [
        Standing(names.get(code, code), should, ready.get(code, 0), free.get(code, 0))
        for code, should in vehicle.standing_stock.items()
    ]
    lines.sort(key=lambda line: (-line.missing, line.model))
    return RestockPage(vehicle.pk, vehicle.name, vehicle.in_workshop, tuple(lines))


@dataclass(frozen=True)
class LeftBehindPage:
    """Units that somebody should fetch or look for."""

    at_finished_jobs: tuple[selectors.UnitRow, ...]
    unseen: tuple[selectors.UnitRow, ...]


def left_behind_page(there: Place, *, now: datetime) -> LeftBehindPage:
    """Two queries."""
    return LeftBehindPage(
        selectors.units_at_finished_jobs(area_id=there.area_id, at_most=100),
        selectors.not_seen_since(area_id=there.area_id, before=now - UNSEEN, at_most=50),
    )


@dataclass(frozen=True)
class Desk:
    """What every page of the room shows around its own part. `typed` is put back into the field after a refusal."""

    place: Place
    tab: str
    said: Said | None = None
    typed: str = ""
    key: UUID | None = None

    @property
    def in_more(self) -> bool:
        """Whether this page is one of those behind "More", which is then marked."""
        return self.tab not in ALWAYS_SHOWN

    @property
    def fresh_key(self) -> UUID:
        """A new key for each form on the page."""
        return uuid4()
