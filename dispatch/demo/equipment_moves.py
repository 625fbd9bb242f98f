"""The equipment of a demo job: loaded at the warehouse, placed on a visit, taken up and brought back at the end."""

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from django.contrib.auth.models import User

from dispatch.demo.clock import DemoClock
from equipment import places
from equipment.custody import place_units, scan_in, scan_out, set_condition, take_up_units
from equipment.reservations import confirm_hold, hold
from jobs.use_case import key_for

Row = Mapping[str, str]
LOADING = timedelta(minutes=70)
BRINGING_BACK = timedelta(hours=2)
CLEANING = timedelta(hours=20)


@dataclass(frozen=True)
class Stock:
    """Ids by the codes that the files use; a model's by the number of a unit."""

    models: Mapping[str, int]
    vehicles: Mapping[str, int]
    warehouses: Mapping[str, int]


@dataclass(frozen=True)
class Moves:
    """Moves one job's equipment. `units` are its placements, `hours` the first reading of each hour meter."""

    key: UUID
    clock: DemoClock
    stock: Stock
    job_id: int
    warehouse: str
    units: Sequence[Row]
    hours: Mapping[str, float]

    def bring(self, *, after: datetime, until: datetime, lead: User, keeper: User) -> None:
        """Load and place what was placed on this visit: [`after`, `until`)."""
        mine = [row for row in self.units if after <= self.clock.moment(row["placed_at"]) < until]
        by_vehicle: dict[str, list[Row]] = defaultdict(list)
        for row in mine:
            by_vehicle[row["vehicle"]].append(row)
        for vehicle, rows in by_vehicle.items():
            first = min(self.clock.moment(row["placed_at"]) for row in rows)
            part = f"{vehicle} {first.isoformat()}"
            self._hold(rows, part=part, at=first - LOADING, lead=lead)
            scan_out(
                key=key_for(self.key, f"load {part}"),
                actor=keeper,
                now=first - LOADING,
                numbers=tuple(row["unit"] for row in rows),
                vehicle_id=self.stock.vehicles[vehicle],
                warehouse_id=self.stock.warehouses[self.warehouse],
                job_id=self.job_id,
            )
            for room, numbers in _by(rows, "room").items():
                place_units(
                    key=key_for(self.key, f"place {part} {room}"),
                    actor=lead,
                    now=first,
                    job_id=self.job_id,
                    room_name=room,
                    numbers=numbers,
                    vehicle_id=self.stock.vehicles[vehicle],
                    hour_meters=tuple((number, self.hours[number]) for number in numbers if number in self.hours),
                )

    def _hold(self, rows: Sequence[Row], *, part: str, at: datetime, lead: User) -> None:
        """Hold at the warehouse what is about to be loaded, as the lead asked for it."""
        removed = [self.clock.moment(row["removed_at"]) for row in self.units if row["removed_at"]]
        wanted = Counter(self.stock.models[row["unit"]] for row in rows)
        place = places.holder_for_warehouse(self.stock.warehouses[self.warehouse])
        held = hold(
            key=key_for(self.key, f"hold {part}"),
            actor=lead,
            now=at,
            job_id=self.job_id,
            wanted=tuple(
                (places.pool_for(model_id=model_id, place=place).pk, count)
                for model_id, count in sorted(wanted.items())
            ),
            starts_at=at,
            ends_at=max(removed) + BRINGING_BACK if removed else self.clock.at("+2", "18:00"),
            keep_for=LOADING,
            leads_reason="asked for by the lead after the first look",
        )
        for reservation_id in held.reservation_ids:
            confirm_hold(
                key=key_for(self.key, f"confirm {reservation_id}"), actor=lead, now=at, reservation_id=reservation_id
            )

    def take_back(self, *, at: datetime, lead: User, keeper: User) -> None:
        """Take up what was picked up, bring it to the warehouse, clean what was cleaned since."""
        gone = [row for row in self.units if row["removed_at"]]
        for vehicle, numbers in _by(gone, "vehicle").items():
            take_up_units(
                key=key_for(self.key, f"take up {vehicle}"),
                actor=lead,
                now=at,
                job_id=self.job_id,
                vehicle_id=self.stock.vehicles[vehicle],
                numbers=numbers,
            )
        for warehouse, numbers in _by(gone, "back_to").items():
            scan_in(
                key=key_for(self.key, f"back {warehouse}"),
                actor=keeper,
                now=at + BRINGING_BACK,
                numbers=numbers,
                warehouse_id=self.stock.warehouses[warehouse],
            )
        clean = tuple(row["unit"] for row in gone if row["condition_after"] == "ready")
        if clean:
            set_condition(
                key=key_for(self.key, "clean"),
                actor=keeper,
                now=at + CLEANING,
                numbers=clean,
                condition="ready",
                steps=("cleaned", "tested"),
            )


def _by(rows: Sequence[Row], column: str) -> dict[str, tuple[str, ...]]:
    found: dict[str, list[str]] = defaultdict(list)
    for row in rows:
        found[row[column]].append(row["unit"])
    return {name: tuple(numbers) for name, numbers in found.items()}
