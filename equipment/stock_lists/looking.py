"""The dry run: every bad row by line and reason, what is new, what would change, and what is left as it is."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from typing import Any

from equipment.models import EquipmentModel, Holder, Unit, UnitNow, Vehicle, Warehouse
from equipment.sheets import writing
from equipment.sheets.checking import GoodRow, Problem, Table, read_rows, repeated, unknown
from equipment.sheets.reading import Sheet, SheetUnusable, sheet_of
from equipment.stock_lists.exporting import model_cells, unit_cells
from equipment.stock_lists.models_list import EQUIPMENT_MODELS, EQUIVALENTS, equivalents_fit, model_has_its_figure
from equipment.stock_lists.units_list import (
    ENTERED_AS,
    ENTERED_AT,
    PAPERS,
    UNITS,
    papers_go_together,
    unit_is_somewhere,
)
from jobs.models import Area
from jobs.refusals import NotThere

TABLES: dict[str, Table] = {"models": EQUIPMENT_MODELS, "units": UNITS}
MOST_CHARACTERS, MOST_ROWS = 2_000_000, 20_000


@dataclass(frozen=True)
class Change:
    """One value of a row that is known: in words, as it is and as the file has it; and the value to be stored."""

    line: int
    key: str
    column: str
    was: str
    becomes: str
    value: Any


@dataclass(frozen=True)
class LookedOver:
    """
    What a file would do. `problems` stop it; `stays` says, by line, where the record and not the file is followed.
    `new` holds the rows to be entered, `changes` what rows that are known would become, `same` how many stay as is.
    """

    problems: tuple[Problem, ...]
    new: tuple[GoodRow, ...]
    changes: tuple[Change, ...]
    same: int
    stays: tuple[str, ...] = ()

    @property
    def changes_nothing(self) -> bool:
        return not self.new and not self.changes


@dataclass
class _Found:
    problems: list[Problem] = field(default_factory=list)
    new: list[GoodRow] = field(default_factory=list)
    changes: list[Change] = field(default_factory=list)
    same: int = 0
    stays: list[str] = field(default_factory=list)


def look_over(*, list_name: str, text: str, area_id: int, now: datetime) -> LookedOver:
    """
    Read a list (`models` or `units`) and say what it would do; writes nothing. At most seven queries.

    :raises NotThere: if there is no such list or area.
    :raises SheetUnusable: if the text is no CSV, holds no row, or is too long.
    """
    table, area = TABLES.get(list_name), Area.objects.filter(pk=area_id).first()
    if table is None or area is None:
        raise NotThere("There is no such list. Choose models or units.", where="list_name")
    sheet = _sheet(text, table)
    rows, bad = read_rows(sheet, table, today=now.astimezone(area.zone).date())
    found = _Found([*bad, *repeated(rows, table)])
    if table is EQUIPMENT_MODELS:
        _look_at_models(rows, sheet, found)
    else:
        _look_at_units(rows, frozenset(sheet.columns), area, found)
    found.problems.sort(key=lambda problem: problem.line)
    return LookedOver(tuple(found.problems), tuple(found.new), tuple(found.changes), found.same, tuple(found.stays))


def _sheet(text: str, table: Table) -> Sheet:
    if len(text) > MOST_CHARACTERS:
        raise SheetUnusable(f"The file has {len(text):,} characters. Divide it: at most {MOST_CHARACTERS:,} at once.")
    sheet = sheet_of(text, table.name)
    if len(sheet.rows) > MOST_ROWS:
        raise SheetUnusable(f"The file has {len(sheet.rows):,} rows. Divide it: at most {MOST_ROWS:,} at once.")
    if not sheet.rows:
        names = ", ".join(column.name for column in table.columns)
        raise SheetUnusable(f"The file holds no row. Its first line names the columns: {names}.")
    return sheet


def _look_at_models(rows: tuple[GoodRow, ...], sheet: Sheet, found: _Found) -> None:
    named = frozenset(sheet.columns)
    models = EquipmentModel.objects.prefetch_related("equivalents")
    known = {row.code: _as_read(model_cells(row)) for row in models}
    if EQUIVALENTS in named:
        # A row that is bad in another cell still names its model: those that name it are not to blame.
        found.problems += equivalents_fit(rows, frozenset(known) | {row.cells.get("code", "") for row in sheet.rows})
    for row in rows:
        code = row.values["code"]
        there = known.get(code)
        after = row.values if there is None else {**there, **{name: row.values[name] for name in named}}
        _bad(found, EQUIPMENT_MODELS, row.line, model_has_its_figure(after))
        if there is None:
            found.new.append(row)
        else:
            _compare(found, row, code, there, named - {"code"})


def _look_at_units(rows: tuple[GoodRow, ...], named: frozenset[str], area: Area, found: _Found) -> None:
    codes = frozenset(EquipmentModel.objects.values_list("code", flat=True))
    places = {
        str(Holder.Kind.WAREHOUSE): frozenset(Warehouse.objects.filter(area=area).values_list("code", flat=True)),
        str(Holder.Kind.VEHICLE): frozenset(Vehicle.objects.filter(area=area).values_list("code", flat=True)),
    }
    known = {
        row.unit.number: row
        for row in UnitNow.objects.select_related(
            "unit__model", "holder__area", "holder__warehouse", "holder__vehicle", "holder__job"
        ).filter(unit__number__in=[row.values["number"] for row in rows])
    }
    without_entry = frozenset(Unit.objects.filter(now=None).values_list("number", flat=True))
    for row in rows:
        number, model = row.values["number"], row.values["model"]
        there = known.get(number)
        if model not in codes:
            why = unknown(model, codes, "the list of models; enter the model first")
            found.problems.append(Problem("units.csv", row.line, "model", why))
        elif there is not None:
            _known_unit(row, there, named, area, found)
        elif number in without_entry:
            found.problems.append(Problem("units.csv", row.line, "number", f"{number} is taken; give it another"))
        else:
            _bad(found, UNITS, row.line, _enterable(row.values, places))
            found.new.append(row)


def _known_unit(row: GoodRow, there: UnitNow, named: frozenset[str], area: Area, found: _Found) -> None:
    is_now, number = _as_read(unit_cells(there)), there.unit.number
    if there.holder.area_id != area.pk:
        found.problems.append(
            Problem("units.csv", row.line, "number", f"{number} belongs to {there.holder.area}; import it there")
        )
        return
    if row.values["model"] != is_now["model"]:
        why = f"{number} is a {is_now['model']} in the record, not a {row.values['model']}; give a new one its own"
        found.problems.append(Problem("units.csv", row.line, "model", why))
        return
    if row.values["rented"] != is_now["rented"]:
        why = f"{number} is {'rented' if is_now['rented'] else 'ours'} in the record; rent a unit in, or call it off"
        found.problems.append(Problem("units.csv", row.line, "rented", why))
        return
    after = {**is_now, **{name: row.values[name] for name in named}}
    _bad(found, UNITS, row.line, papers_go_together(after) if _papers_differ(after, is_now) else iter(()))
    moved = [name for name in named - {"number", "model", "rented", *PAPERS} if row.values[name] != is_now[name]]
    if moved:
        where = f"{there.holder} ({there.get_condition_display()})"
        found.stays.append(
            f"Line {row.line}: number {number} stays as the record has it: {where}. "
            f"A file moves no unit ({', '.join(sorted(moved))}); scan it."
        )
    _compare(found, row, number, is_now, named & set(PAPERS))


def _papers_differ(after: Mapping[str, Any], is_now: Mapping[str, Any]) -> bool:
    return any(after[name] != is_now[name] for name in PAPERS)


def _enterable(row: Mapping[str, Any], places: Mapping[str, frozenset[str]]) -> Iterator[tuple[str, str]]:
    if row["holder"] not in ENTERED_AT:
        yield "holder", f"is {row['holder']}; a new unit is entered at: {', '.join(sorted(ENTERED_AT))}"
        return
    if row["condition"] not in ENTERED_AS:
        yield "condition", f"is {row['condition']}; a new unit is one of: {', '.join(sorted(ENTERED_AS))}"
        return
    yield from unit_is_somewhere(row)
    here = places.get(row["holder"])
    if here is not None and row["place"] is not None and row["place"] not in here:
        yield "place", unknown(row["place"], here, f"the list of {row['holder']}s of this area")


def _bad(found: _Found, table: Table, line: int, bad: Iterator[tuple[str, str]]) -> None:
    found.problems += [Problem(f"{table.name}.csv", line, column, why) for column, why in bad]


def _compare(found: _Found, row: GoodRow, key: str, there: Mapping[str, Any], names: frozenset[str]) -> None:
    changed = [name for name in sorted(names) if row.values[name] != there[name]]
    found.same += not changed
    found.changes += [
        Change(row.line, key, name, _word(there[name]), _word(row.values[name]), _stored(name, row.values[name]))
        for name in changed
    ]


def _as_read(values: Mapping[str, object]) -> dict[str, Any]:
    """What a row that is known would be if it came out of a file: empty is None, numbers as precise as cells are."""
    read: dict[str, Any] = {}
    for name, value in values.items():
        if isinstance(value, float | Decimal):
            read[name] = round(float(value), writing.DECIMALS)
        else:
            read[name] = (value.strip() or None) if isinstance(value, str) else value
    return read


def _word(value: object) -> str:
    return writing.unguarded(writing.cell(value))


def _stored(column: str, value: object) -> object:
    return "" if value is None and column in {"supplier", "supplier_number"} else value
