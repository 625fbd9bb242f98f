"""Rule data of dispatch: who may be sent to which work, and the figures of rest, breaks and prices."""

import functools
import tomllib
from dataclasses import dataclass
from importlib import resources
from typing import Any, Literal

Who = Literal["lead", "one", "all", "firm"]
CONFIDENCES = frozenset({"published", "practice", "memory", "demo"})


class RuleHole(ValueError):
    """A rule file lacks something, or a figure names no source."""


@dataclass(frozen=True)
class Requirement:
    """A card that the work asks for, and of whom."""

    work: str
    words: str
    who: Who
    card: str
    state: bool
    source: str
    confidence: str
    override: bool
    instead: str


@dataclass(frozen=True)
class Bar:
    """Whether a manager may send a crew against a rule, and what would be right instead."""

    override: bool
    instead: str
    source: str
    confidence: str


@dataclass(frozen=True)
class Site:
    """A kind of building that lets in only people whom it knows."""

    source: str
    confidence: str


@dataclass(frozen=True)
class Figure:
    """One figure with its unit and where it stands."""

    value: int
    unit: str
    source: str
    confidence: str


@functools.cache
def requirements() -> tuple[Requirement, ...]:
    """
    Every requirement, in the file's order.

    :raises RuleHole: if a row lacks a key or names no source.
    """
    rows = _read("work.toml")["requirement"]
    return tuple(_row(Requirement, row, f"requirement {number}") for number, row in enumerate(rows, start=1))


@functools.cache
def figures() -> dict[str, Figure]:
    """
    Every figure by name.

    :raises RuleHole: if a figure lacks a key or names no source.
    """
    return {name: _row(Figure, row, name) for name, row in _read("figures.toml").items()}


@functools.cache
def bars() -> dict[str, Bar]:
    """
    Every rule that can bar a crew, by its stable key: those of `bars.toml`, and `card:KIND` for each required card.

    :raises RuleHole: if a row lacks a key or names no source.
    """
    cards = {f"card:{row.card}": Bar(row.override, row.instead, row.source, row.confidence) for row in requirements()}
    return {name: _row(Bar, row, name) for name, row in _read("bars.toml").items()} | cards


@functools.cache
def guarded_buildings() -> frozenset[str]:
    """
    The buildings that let in only people whom they know, in the words of the call.

    :raises RuleHole: if a row names no source.
    """
    return frozenset(name for name, row in _read("sites.toml").items() if _row(Site, row, name))


def figure(name: str) -> int:
    """The value of one figure."""
    return figures()[name].value


def _row(kind: type[Any], row: dict[str, Any], name: str) -> Any:
    wanted = set(kind.__dataclass_fields__)
    if set(row) != wanted:
        raise RuleHole(f"{name}: {', '.join(sorted(wanted ^ set(row)))} is missing or not known")
    if not str(row["source"]).strip() or row["confidence"] not in CONFIDENCES:
        raise RuleHole(f"{name}: name a source and one of {', '.join(sorted(CONFIDENCES))}")
    return kind(**row)


def _read(name: str) -> dict[str, Any]:
    return tomllib.loads(resources.files(__name__).joinpath(name).read_text(encoding="utf-8"))
