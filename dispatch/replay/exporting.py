"""A stored night as a scenario: the company as it was imported, what was done, and what came of it as expectations."""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.contrib.auth.models import User

from dispatch.imports.tables import TABLES
from dispatch.models import Person
from dispatch.replay.looks import LOOKS
from dispatch.replay.naming import Known, fields_of, kind_of
from dispatch.replay.neutral import FREE_TEXT, LEFT_OUT, Neutral
from dispatch.replay.recorded import NO_PART, Deed, Record, local_day, read_record
from dispatch.replay.scenario import PROGRAM
from dispatch.replay.verbs import verbs
from equipment.models import Warehouse
from equipment.sheets import cells
from equipment.sheets.reading import Sheet
from jobs.calls.answers import is_private
from jobs.models import Area, UseCaseCall
from jobs.people import system_user
from jobs.refusals import Refusal

# Longer answers say the same as what was asked for.
MOST_EXPECTED = 12
# Worked out within a limit of time, or by the clock of the machine.
NOT_EXPECTED = frozenset({"placed", "report", "left_out", "moved", "held", "drive_s", "released"})
_PLAIN = re.compile(r"[a-z_]{1,30}|J-\d+|\d{4}|\d{4}-\d\d-\d\d")
_RELATIVE = re.compile(r"[+-]\d{1,4}|0")
_DAYS = {table.name: {column.name for column in table.columns if column.read is cells.day} for table in TABLES}


class NothingRecorded(Refusal):
    """There is no night to export: nothing was recorded between the two times."""

    code = "nothing_recorded"
    status = 404


class CompanyErased(Refusal):
    """The company's tables as they were imported are no longer in the record."""

    code = "company_erased"
    status = 409


@dataclass
class Exported:
    """The scenario, and what could not be part of it: verb to how often."""

    scenario: dict[str, Any]
    left_out: dict[str, int] = field(default_factory=dict)


def export_night(*, since: datetime | None, until: datetime, company: Sequence[Sheet] = ()) -> Exported:
    """
    The scenario of everything that was done in `since <= now < until`, with what it stands on before it.

    Steps before `since` carry no expectations. Private words are replaced by neutral ones throughout.

    :param company: the company's tables, where those that were imported were erased from the record on schedule.
    :raises NothingRecorded: if nobody did anything then.
    :raises CompanyErased: if the record has no tables, and none are given.
    """
    record = read_record(until=until)
    since = since or min((deed.at for deed in record.deeds), default=until)
    if not any(deed.at >= since for deed in record.deeds):
        raise NothingRecorded(
            f"Nobody did anything from {since.isoformat()} to {until.isoformat()}. Name other times; the record goes "
            "back to the first call."
        )
    neutral = Neutral()
    sheets = _sheets(record, company)
    for row in sheets["people"]:
        neutral.person(str(row["user_name"]), str(row["name"]))
    tables = {
        name: [{column: _cell(neutral, name, column, cell) for column, cell in row.items()} for row in rows]
        for name, rows in sheets.items()
    }
    steps = _Steps(neutral=neutral, since=since, known=Known(user=neutral.user))
    opened = record.imports[0].at if record.imports else record.deeds[0].at
    steps.look(opened, {"page": "ledgers"}, {"#": 0}, note="the company as it was loaded")
    for deed in record.deeds:
        steps.add(deed)
    if not UseCaseCall.objects.filter(now__gte=until).exclude(verb__in=NO_PART).exists():
        steps.end(until)
    note = f"A stored night, exported: {since.isoformat()} to {until.isoformat()}; private words are replaced."
    return Exported({"format": 1, "note": note, "company": tables, "steps": steps.written()}, steps.left_out)


@dataclass(frozen=True)
class Sheets:
    """Tables that were read from a folder, as an import's argument holds them."""

    sheets: tuple[Sheet, ...]


@dataclass
class _Steps:
    """Writes step after step; what a step returned is known to those after it."""

    neutral: Neutral
    since: datetime
    known: Known
    steps: list[dict[str, Any]] = field(default_factory=list)
    left_out: dict[str, int] = field(default_factory=dict)
    clock: datetime | None = None

    def add(self, deed: Deed) -> None:
        arguments = _whole(deed)
        if arguments is None or (deed.refused and (deed.at < self.since or deed.refused not in Refusal.every)):
            if not deed.refused:
                self.left_out[deed.verb] = self.left_out.get(deed.verb, 0) + 1
            return
        name = f"s{len(self.steps)}"
        told = self.known.arguments(deed.verb, _neutral(self.neutral, deed.verb, arguments))
        step = self._step(deed.at, self.neutral.user(deed.who), deed.verb, told)
        if deed.at >= self.since:
            expected = {"refused": deed.refused} if deed.refused else self._expected(deed.answer)
            step["expect"] = expected
        if not deed.refused:
            step["as"] = name
            self.known.learn(name, deed.answer)

    def look(self, at: datetime, page: dict[str, Any], expected: Mapping[str, Any], *, note: str) -> None:
        step = self._step(at, PROGRAM, "look", page)
        step.update(expect=dict(expected), note=note)

    def end(self, until: datetime) -> None:
        """What everything came to, where nothing was done after it."""
        for area in Area.objects.order_by("pk"):
            page = {"page": "stock", "area_id": f"@area:{area.code}"}
            found = LOOKS["stock"].function(viewer=system_user(), now=until, area_id=area.pk)
            self.look(until, page, {"": found}, note="numbered units by place and model in the end")
        self.look(until, {"page": "ledgers"}, {"#": 0}, note="both ledgers replay to what the tables say")

    def written(self) -> list[dict[str, Any]]:
        for step in self.steps:
            if step.get("as") not in self.known.used:
                step.pop("as", None)
            if not step.get("expect"):
                step.pop("expect", None)
        return self.steps

    def _step(self, at: datetime, who: str, verb: str, told: Mapping[str, Any]) -> dict[str, Any]:
        # A write that was made up as of an earlier time is done where it was recorded.
        self.clock = at if self.clock is None else max(self.clock, at)
        step: dict[str, Any] = {"at": self.clock.astimezone(_zone()).isoformat(), "who": who, "do": verb}
        self.steps.append({**step, "with": dict(told)} if told else step)
        return self.steps[-1]

    def _expected(self, answer: Any) -> dict[str, Any]:
        """The plain words, numbers and counts of an answer; ids, times and texts may differ elsewhere."""
        return dict(list(_plain(answer))[:MOST_EXPECTED])


def _plain(answer: Any) -> Iterator[tuple[str, Any]]:
    for name, path, value in fields_of(answer):
        if any(part in NOT_EXPECTED for part in path.split(".")) or name in FREE_TEXT or is_private(name):
            continue
        if kind_of(name) is not None or name.endswith("_id") or name == "id" or isinstance(value, float):
            continue
        if isinstance(value, bool | int) or (isinstance(value, str) and _PLAIN.fullmatch(value)):
            yield path, value
    for name, inner in answer.items() if isinstance(answer, Mapping) else ():
        if isinstance(inner, list) and name not in NOT_EXPECTED:
            yield f"{name}.#", len(inner)


def _whole(deed: Deed) -> dict[str, Any] | None:
    """The arguments, with words in the place of those that were erased on schedule; None if one cannot be made up."""
    found = verbs().get(deed.verb)
    if found is None:
        return None
    told = {name: value for name, value in deed.arguments.items() if name in found.arguments.model_fields}
    for name, entry in found.arguments.model_fields.items():
        if entry.is_required() and name not in told:
            if name not in FREE_TEXT | {"name"}:
                return None
            told[name] = LEFT_OUT
    if deed.verb == "plan_day":
        told.setdefault("iterations", 2000)
        told.pop("seconds", None)
    return told


def _neutral(neutral: Neutral, verb: str, told: Mapping[str, Any]) -> dict[str, Any]:
    """A step's arguments in neutral words: an answer on the call by its field, all else by the argument's name."""
    if verb == "answer_call":
        return {**told, "value": neutral.field(str(told["field"]), told["value"])}
    if verb == "keep_signature":
        return {**neutral.field("", told), "name": neutral.name(str(told["name"])), "drawing": ""}
    if verb == "tell_demo_job":
        # Invented, and its notes are taken apart: who was told, and why.
        rows = {name: [_demo_row(neutral, row) for row in rows] for name, rows in told["told"].items()}
        return {**told, "told": rows}
    return {name: neutral.field(name, value) for name, value in told.items()}


def _demo_row(neutral: Neutral, row: Mapping[str, Any]) -> dict[str, Any]:
    return {
        name: neutral.text(str(cell)) if name in FREE_TEXT else neutral.field(name, cell) for name, cell in row.items()
    }


def _cell(neutral: Neutral, sheet: str, column: str, cell: Any) -> Any:
    # The company's own streets are where its warehouses are for everybody to see; notes are those of its rules.
    stays = column in {"street", "lat", "lon", "note"} or (column == "name" and sheet != "people")
    return cell if stays else neutral.field("caller_name" if column == "name" else column, cell)


def _sheets(record: Record, company: Sequence[Sheet]) -> dict[str, list[dict[str, Any]]]:
    """The company's tables as they were imported, one import over the other; days as dates."""
    imports = [(local_day(deed), deed.arguments.get("sheets")) for deed in record.imports]
    if company:
        imports = [(record.deeds[0].at.astimezone(_zone()).date(), asdict(Sheets(tuple(company)))["sheets"])]
    if not imports or any(sheets is None for _, sheets in imports):
        raise CompanyErased(
            "The company's tables are not in the record: they were entered by hand, or erased on schedule. Name the "
            "folder with its CSV files (--company)."
        )
    tables: dict[str, dict[tuple[str, ...], dict[str, Any]]] = {}
    for day, sheets in imports:
        for sheet in sheets or ():
            key = next((table.key for table in TABLES if table.name == sheet["name"]), None)
            for row in sheet["rows"] if key else ():
                found = {name: _absolute(sheet["name"], name, cell, day) for name, cell in row["cells"].items()}
                tables.setdefault(sheet["name"], {})[tuple(str(found.get(part, "")) for part in key or ())] = found
    all_rows = {name: list(rows.values()) for name, rows in tables.items()}
    people = [*all_rows.get("people", []), *_others(all_rows)]
    return {**all_rows, "people": sorted(people, key=lambda row: str(row["user_name"]))}


def _absolute(sheet: str, column: str, cell: str, day: date) -> str:
    if column in _DAYS.get(sheet, ()) and _RELATIVE.fullmatch(cell):
        return (day + timedelta(days=int(cell))).isoformat()
    return cell


def _others(sheets: Mapping[str, list[dict[str, Any]]]) -> Iterator[dict[str, Any]]:
    """Those who did something and were in no import: a step is somebody's of the company."""
    named = {row["user_name"] for row in sheets.get("people", [])} | {PROGRAM}
    home = Warehouse.objects.order_by("pk").values_list("code", flat=True).first() or ""
    acted = set(UseCaseCall.objects.values_list("actor__username", flat=True)) - named
    for user in User.objects.filter(username__in=acted).order_by("username"):
        roles = sorted(user.memberships.values_list("role", flat=True))  # type: ignore[attr-defined]
        person = Person.objects.filter(user=user).select_related("home").first()
        yield {
            "user_name": user.username,
            "name": person.name if person else user.get_full_name() or user.username,
            "phone": person.phone if person else "360-555-0100",
            "role": "manager" if user.is_superuser or not roles else roles[0],
            "warehouse": person.home.code if person else home,
        }


def _zone() -> ZoneInfo:
    area = Area.objects.order_by("pk").first()
    return area.zone if area else ZoneInfo("UTC")
