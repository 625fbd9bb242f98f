"""The company's sheets with another fleet: more crews, more machines, one more warehouse; and a rota day after day."""

import math
from collections.abc import Callable, Iterable, Mapping
from typing import Any

from dispatch.rehearsal.setting import Setting, SettingUnusable
from equipment.sheets.reading import Sheet, SheetRow

AS_IT_IS = "as it is"
Cells = dict[str, str]
Tables = dict[str, list[Cells]]


def with_fleet(sheets: tuple[Sheet, ...], setting: Setting, fleet: str) -> tuple[Sheet, ...]:
    """
    The sheets as they would be with this fleet; `AS_IT_IS` changes nothing.

    :raises SettingUnusable: if there is no such fleet, or it names what the company does not have.
    """
    if fleet == AS_IT_IS:
        return sheets
    if fleet not in setting.fleets:
        known = ", ".join([AS_IT_IS, *setting.fleets])
        raise SettingUnusable(f"There is no fleet {fleet}. Known: {known}.", where="--fleet")
    row = setting.fleets[fleet]
    tables: Tables = {sheet.name: [dict(row.cells) for row in sheet.rows] for sheet in sheets}
    try:
        for more in row.get("crews", ()):
            _add_crews(tables, more["like"], more["count"])
        for more in row.get("units", ()):
            _add_units(tables, more["model"], more["warehouse"], more["count"])
        if "warehouse" in row:
            _add_warehouse(tables, row)
    except (KeyError, StopIteration) as error:
        raise SettingUnusable(
            f"The fleet {fleet} names something that the company does not have: {error}.", where="--fleet"
        ) from error
    return _as_sheets(sheets, tables)


def with_rota(sheets: tuple[Sheet, ...], *, days: int, works: Callable[[int, int], bool]) -> tuple[Sheet, ...]:
    """
    The first day's crews on every day, where `works(number of the crew, day)`; its shifts stay the first day's.
    """
    tables: Tables = {sheet.name: [dict(row.cells) for row in sheet.rows] for sheet in sheets}
    first = [row for row in tables["crews"] if row["day"] in ("0", "+0")]
    tables["crews"] = [
        {**row, "day": f"+{day}" if day else "0"}
        for day in range(days)
        for number, row in enumerate(first)
        if row["kind"] == "night" or works(number, day)
    ]
    return _as_sheets(sheets, tables)


def spread(number: int, share: float) -> bool:
    """Whether the one of this number belongs to a share of a list: as many, and evenly over the list."""
    return math.floor((number + 1) * share + 1e-9) > math.floor(number * share + 1e-9)


def _add_crews(tables: Tables, like: str, count: int) -> None:
    crew = next(row for row in tables["crews"] if row["code"] == like and row["day"] in ("0", "+0"))
    vehicle = next(row for row in tables["vehicles"] if row["code"] == crew["vehicle"])
    for number in range(1, count + 1):
        code = f"X{like}{number}"
        people = {
            part: _copy_person(tables, crew[part], f"{code.lower()}{part}")
            for part in ("lead", "helper")
            if crew.get(part)
        }
        tables["vehicles"].append({**vehicle, "code": code, "name": f"One more like {vehicle['name']}, {number}"})
        tables["crews"].append({**crew, **people, "code": code, "vehicle": code})


def _copy_person(tables: Tables, user_name: str, copy: str) -> str:
    person = next(row for row in tables["people"] if row["user_name"] == user_name)
    tables["people"].append({**person, "user_name": copy, "name": f"One more like {person['name']} ({copy})"})
    tables["cards"] += [{**row, "user_name": copy} for row in tables["cards"] if row["user_name"] == user_name]
    return copy


def _add_units(tables: Tables, model: str, warehouse: str, count: int) -> None:
    like = next(row for row in tables["units"] if row["model"] == model)
    taken = {row["number"] for row in tables["units"]}
    free = (f"{number:04}" for number in range(1, 100_000) if f"{number:04}" not in taken)
    for _ in range(count):
        where = {"holder": "warehouse", "place": warehouse, "condition": "ready", "water_category": ""}
        tables["units"].append({**like, **where, "number": next(free)})


def _add_warehouse(tables: Tables, row: Mapping[str, Any]) -> None:
    code = row["warehouse"]["code"]
    tables["warehouses"].append(dict(row["warehouse"]))
    moved = set(row.get("move_crews", ()))
    vehicles, people = set(), set()
    for crew in tables["crews"]:
        if crew["code"] in moved and crew["day"] in ("0", "+0"):
            crew["start"] = crew["end"] = code
            vehicles.add(crew["vehicle"])
            people |= {crew["lead"], crew.get("helper", "")}
    _move(tables["vehicles"], "code", vehicles, code)
    _move(tables["people"], "user_name", people, code)
    take = row.get("move_units")
    if take:
        there = [one for one in tables["units"] if one["holder"] == "warehouse" and one["place"] == take["from"]]
        for number, unit in enumerate(there):
            if spread(number, take["share"]):
                unit["place"] = code


def _move(rows: Iterable[Cells], column: str, names: set[str], warehouse: str) -> None:
    for row in rows:
        if row[column] in names:
            row["warehouse"] = warehouse


def _as_sheets(sheets: tuple[Sheet, ...], tables: Tables) -> tuple[Sheet, ...]:
    return tuple(
        Sheet(
            sheet.name,
            sheet.columns,
            tuple(
                SheetRow(line, {column: cells.get(column, "") for column in sheet.columns})
                for line, cells in enumerate(tables[sheet.name], start=2)
            ),
        )
        for sheet in sheets
    )
