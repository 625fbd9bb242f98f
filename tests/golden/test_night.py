"""A worked night (tables of our own beside this file): replayed through the use cases, its stock must balance."""

import csv
from collections import Counter
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from equipment import custody
from equipment.audit import audit
from equipment.models import Discrepancy, Move, UnitNow
from tests.equipment import cast as casting
from tests.equipment.cast import NIGHT

HERE = Path(__file__).parent
EVENING = NIGHT - timedelta(hours=22, minutes=47)  # midnight before that evening
Counts = dict[tuple[str, str], tuple[int, int, int]]


def table(name: str) -> list[dict[str, str]]:
    with (HERE / name).open(newline="", encoding="utf-8") as lines:
        next(lines)  # the source
        return list(csv.DictReader(lines))


def counted_by_hand(when: str) -> Counts:
    rows = [row for row in table("night_stock.csv") if row["when"] == when]
    return {
        (row["place"], row["model"]): (int(row["ready"]), int(row["in_use"]), int(row["not_ready"])) for row in rows
    }


class Night:
    """The cast of the worked night, and its movements as calls."""

    def __init__(self) -> None:
        self.cast = cast = casting.make()
        start = {"since": EVENING + timedelta(hours=18)}
        cast.units(*[f"{n:04}" for n in range(1, 9)], **start)
        cast.units("0051", "0052", "0053", model=cast.dehumidifier, **start)
        cast.units("0009", "0010", "0011", "0012", at=cast.south, **start)
        cast.units("0054", model=cast.dehumidifier, at=cast.south, **start)
        cast.units("0013", "0014", at=cast.van, **start)
        cast.units("0055", model=cast.dehumidifier, at=cast.van, **start)
        cast.units("0056", model=cast.dehumidifier, at=cast.other_van, **start)
        jobs = {"A": cast.job(), "B": cast.job(category=3), "C": cast.job()}
        places = {"north": cast.north, "south": cast.south, "van 1": cast.van, "van 2": cast.other_van}
        self.ids = {name: row.pk for name, row in {**places, **jobs}.items()}
        self.names = {row.name: name for name, row in places.items()} | {row.number: name for name, row in jobs.items()}

    def move(self, row: dict[str, str]) -> None:
        hours, minutes = row["at"].split(":")
        at = EVENING + timedelta(hours=int(hours), minutes=int(minutes))
        keeper, lead = self.cast.by(self.cast.keeper, at), self.cast.by(self.cast.lead, at)
        one: dict[str, Any] = {"numbers": (row["unit"],)}
        to, origin, more = self.ids.get(row["to"]), self.ids.get(row["from"]), row["more"]
        match row["do"]:
            case "load":
                job = self.ids[more] if more else None
                custody.scan_out(**keeper, **one, vehicle_id=to, warehouse_id=origin, job_id=job)
            case "place":
                custody.place_units(**lead, **one, job_id=to, room_name="hall", vehicle_id=origin)
            case "take_up":
                custody.take_up_units(**lead, **one, job_id=origin, vehicle_id=to)
            case "to_job":
                custody.move_units(**lead, **one, to_job_id=to, room_name="den")
            case "bring_in":
                custody.scan_in(**keeper, **one, warehouse_id=to)
            case "send":
                custody.send_transfer(**keeper, **one, from_warehouse_id=origin, to_warehouse_id=to)
            case "receive":
                custody.receive_transfer(**keeper, **one, warehouse_id=to)
            case "ready":
                custody.set_condition(**keeper, **one, condition="ready", steps=tuple(more.split()))
            case "break":
                custody.set_condition(**keeper, **one, condition="broken")

    def counted(self) -> Counts:
        found: Counter[tuple[str, str, str]] = Counter()
        for row in UnitNow.objects.select_related("unit__model", "holder"):
            how = row.condition if row.condition in {"ready", "in_use"} else "not_ready"
            found[self.names[str(row.holder)], row.unit.model.code, how] += 1
        where = {(place, model) for place, model, _ in found}
        return {w: (found[(*w, "ready")], found[(*w, "in_use")], found[(*w, "not_ready")]) for w in where}


@pytest.mark.django_db
def test_the_worked_night_balances() -> None:
    night = Night()
    assert night.counted() == counted_by_hand("opening")
    for row in table("night_moves.csv"):
        if row["do"] == "count":
            assert night.counted() == counted_by_hand(row["to"]), row["to"]
        else:
            night.move(row)
    assert Move.objects.exclude(why="opening").count() >= 40
    assert not Discrepancy.objects.exists()
    assert audit() == ()
