"""Reading a scenario, and checking all of it before anything is done."""

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import Annotated, Any, Literal, NoReturn

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, StringConstraints, ValidationError

from dispatch.imports.checks import check
from dispatch.imports.sheets import read_folder
from dispatch.imports.tables import TABLES as COMPANY_TABLES
from dispatch.replay import references
from dispatch.replay.looks import LOOKS
from dispatch.replay.verbs import verbs
from equipment.sheets.reading import Sheet, SheetRow
from jobs.refusals import Refusal

PROGRAM = "ebbline"  # the program's own user: what timers do in the live system, a step may do by its name
NOTHING_KNOWN: dict[str, frozenset[str]] = {
    name: frozenset() for name in ("areas", "warehouses", "vehicles", "equipment_models", "people")
}
Name = Annotated[str, StringConstraints(pattern=r"^[A-Za-z_][A-Za-z0-9_]*$")]
Cell = str | int | float | None


class ScenarioUnusable(Refusal):
    """A scenario that cannot be meant; nothing of it was done."""

    code = "scenario_unusable"
    status = 422

    def as_document(self) -> dict[str, Any]:
        """As it is written on standard error."""
        return {"code": self.code, "where": self.where or "", "message": self.message}


class Step(BaseModel):
    """One thing done by somebody at a time."""

    model_config = ConfigDict(extra="forbid", populate_by_name=True)

    at: AwareDatetime
    who: str
    do: str
    with_: dict[str, Any] = Field(default_factory=dict, alias="with")
    as_: Name | None = Field(default=None, alias="as")
    expect: dict[str, Any] = Field(default_factory=dict)
    note: str | list[str] = ""

    @property
    def refused(self) -> str | None:
        """The code of the refusal that is expected, if one is."""
        return self.expect["refused"] if set(self.expect) == {"refused"} else None


class Scenario(BaseModel):
    """A whole night. `company` is a folder of CSV files, or its tables: name to rows of cells."""

    model_config = ConfigDict(extra="forbid")

    format: Literal[1]
    company: str | dict[str, list[dict[str, Cell]]]
    steps: list[Step] = Field(min_length=1)
    note: str | list[str] = ""


@dataclass(frozen=True)
class Night:
    """A scenario that was checked: its steps, and its company as the import reads it."""

    steps: tuple[Step, ...]
    sheets: tuple[Sheet, ...]


def read(path: Path) -> Night:
    """
    The scenario in a file; a company's folder is looked for beside the file first.

    :raises ScenarioUnusable: if anything in it cannot be meant; `where` says which part.
    """
    try:
        told = json.loads(path.read_text(encoding="utf-8"), parse_constant=_no_number, object_pairs_hook=_once)
    except OSError as error:
        raise ScenarioUnusable(f"{path} cannot be read ({error.strerror}). Name a scenario's file.") from error
    except (ValueError, RecursionError) as error:
        raise ScenarioUnusable(f"{path.name} is no JSON that can be read: {error}") from error
    return checked(told, beside=path.parent)


def checked(told: Any, *, beside: Path) -> Night:
    """
    :raises ScenarioUnusable: as `read` does.
    """
    try:
        scenario = Scenario.model_validate(told)
    except ValidationError as error:
        first = error.errors()[0]
        raise ScenarioUnusable(f"{first['msg']}.", where=_where(first["loc"])) from error
    sheets = _sheets(scenario.company, beside)
    _company(sheets, scenario)
    users = _column(sheets, "people", "user_name") | {PROGRAM}
    names: set[str] = set()
    for number, step in enumerate(scenario.steps):
        where = f"steps[{number}]"
        if number and step.at < scenario.steps[number - 1].at:
            _refuse(f"{where}.at", "This step is before the one above it. Put the steps in the order of their times.")
        if step.who not in users:
            _refuse(f"{where}.who", f"Nobody in people has the user name {step.who}. {_did_you_mean(step.who, users)}")
        _arguments(step, where)
        _references(step, where, names, sheets)
        if step.as_:
            if step.as_ in names:
                _refuse(f"{where}.as", f"An earlier step is already called {step.as_}. Choose another name.")
            names.add(step.as_)
        if step.refused is not None and step.refused not in Refusal.every:
            _refuse(f"{where}.expect.refused", f"No refusal has the code {step.refused}. DEVELOPERS.md lists them all.")
    return Night(tuple(scenario.steps), sheets)


def model_of(step: Step, where: str) -> tuple[type[BaseModel], dict[str, Any]]:
    """
    The model of a step's arguments, and the arguments that it is for.

    :raises ScenarioUnusable: if there is no such verb or page.
    """
    if step.do == "offer":
        return LOOKS["offers"].arguments, step.with_
    if step.do == "look":
        page = step.with_.get("page")
        if not isinstance(page, str) or page not in LOOKS:
            _refuse(f"{where}.with.page", f"There is no page {page!r}. Pages: {', '.join(LOOKS)}.")
        return LOOKS[page].arguments, {name: value for name, value in step.with_.items() if name != "page"}
    found = verbs().get(step.do)
    if found is None:
        known = {*verbs(), "look", "offer"}
        _refuse(f"{where}.do", f"There is no verb {step.do}. {_did_you_mean(step.do, known)}")
    return found.arguments, step.with_


def _arguments(step: Step, where: str) -> None:
    """Every argument that is not a reference must be of its type already now."""
    model, given = model_of(step, where)
    if step.do in {"plan_day"} and "iterations" not in given:
        _refuse(f"{where}.with.iterations", "A replayed plan is limited by iterations, so that it is always the same.")
    if problem := argument_problem(model, given):
        at, message = problem
        _refuse(f"{where}.with{at}", message)


def argument_problem(model: type[BaseModel], given: Mapping[str, Any]) -> tuple[str, str] | None:
    """What is wrong with some arguments, where and how; what a reference stands for is not known here."""
    try:
        model.model_validate_json(json.dumps(given))
    except ValidationError as error:
        for one in error.errors():
            if one["type"] == "extra_forbidden":
                names = ", ".join(model.model_fields)
                return _where(one["loc"], "."), f"There is no such argument. Known: {names or 'none'}."
            if not references.is_reference(one["input"]):
                return _where(one["loc"], "."), f"{one['msg']}."
    return None


def _references(step: Step, where: str, names: set[str], sheets: tuple[Sheet, ...]) -> None:
    for part in (step.with_, step.expect):
        for name in references.names_in(part):
            if name not in names:
                _refuse(where, f"${name}: no earlier step has this name in `as`.")
        for kind, code in references.rows_in(part):
            if kind not in references.KINDS:
                _refuse(where, f"@{kind}:{code}: known are {', '.join(references.KINDS)}.")
            if kind in references.TABLES:
                table, column = references.TABLES[kind]
                codes = _column(sheets, table, column)
                if code.rpartition("/")[2] not in codes:
                    _refuse(where, f"@{kind}:{code}: {table} has no such {column}. {_did_you_mean(code, codes)}")


def _sheets(company: str | dict[str, list[dict[str, Cell]]], beside: Path) -> tuple[Sheet, ...]:
    known = [table.name for table in COMPANY_TABLES]
    if isinstance(company, str):
        folder = beside / company
        try:
            found = read_folder(folder if folder.is_dir() else Path(company))
        except Refusal as refusal:
            raise ScenarioUnusable(refusal.message, where="company") from refusal
        return tuple(sheet for sheet in found if sheet.name in known)
    for name in company:
        if name not in known:
            _refuse(f"company.{name}", f"There is no such table. {_did_you_mean(name, known)}")
    return tuple(_sheet(name, rows) for name, rows in company.items())


def _company(sheets: tuple[Sheet, ...], scenario: Scenario) -> None:
    problems = check(sheets, today=scenario.steps[0].at.date(), known=NOTHING_KNOWN).problems
    if problems:
        _refuse("company", f"{len(problems)} to put right. The first: {problems[0]}")


def _sheet(name: str, rows: list[dict[str, Cell]]) -> Sheet:
    columns = tuple(dict.fromkeys(column for row in rows for column in row))
    return Sheet(
        name,
        columns,
        tuple(
            SheetRow(line, {column: "" if row.get(column) is None else str(row[column]).strip() for column in columns})
            for line, row in enumerate(rows, start=1)
        ),
    )


def _column(sheets: tuple[Sheet, ...], table: str, column: str) -> set[str]:
    return {row.cells.get(column, "") for sheet in sheets if sheet.name == table for row in sheet.rows}


def _where(loc: tuple[int | str, ...], before: str = "") -> str:
    text = "".join(f"[{part}]" if isinstance(part, int) else f".{part}" for part in loc)
    return text if before else text.removeprefix(".")


def _did_you_mean(word: str, known: Iterator[str] | set[str] | list[str]) -> str:
    near = get_close_matches(word, sorted(known), n=3)
    return f"Did you mean {' or '.join(near)}?" if near else f"Known: {', '.join(sorted(known)[:60])}."


def _refuse(where: str, message: str) -> NoReturn:
    raise ScenarioUnusable(message, where=where)


def _no_number(text: str) -> NoReturn:
    raise ValueError(f"{text} is no number")


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        names = [name for name, _ in pairs]
        raise ValueError(f"the key {next(n for n in names if names.count(n) > 1)} stands twice in one object")
    return found
