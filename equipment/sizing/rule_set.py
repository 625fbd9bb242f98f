"""Rule sets: figures with unit, source and confidence, read from TOML; one with a hole is refused by name."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, PlainValidator, ValidationError, model_validator

from equipment.sizing.loss import exact
from equipment.sizing.refused import LossRefused, path_of

SHIPPED_FOLDER = Path(__file__).parent / "rules"
DEFAULT_RULES = "simple-method"
WITHOUT_PUBLICATION = ("trade practice", "common practice, no source", "from memory")
# A publication is told apart from an opinion by its year, its part of the federal code, or its number.
NAMES_A_PUBLICATION = re.compile(
    r"[A-Za-z]{2}.*\b(1[89]|20)\d\d\b|\bCFR\b|\b[A-Z]{1,5}\s?\d{3}\b|\b[A-Z]{3,}\b.*\d+\.\d+"
)


@dataclass(frozen=True)
class RuleSetRefused(Exception):
    """A rule set that cannot be used: which one, where it is wrong, and what would be right."""

    name: str
    where: str
    message: str
    code = "rule_set"

    def __str__(self) -> str:
        return f"Rule set {self.name}, {self.where}: {self.message}"


def _source(value: Any) -> str:
    text = value.strip() if isinstance(value, str) else ""
    if any(words in text for words in WITHOUT_PUBLICATION) or NAMES_A_PUBLICATION.search(text):
        return text
    raise ValueError(
        "names no source. Name a publication with its year or number, or say "
        '"trade practice", "common practice, no source" or "from memory"'
    )


def _positive(value: Any) -> Fraction:
    number = exact(value)
    if number <= 0:
        raise ValueError("is not more than 0. A figure that others are divided or multiplied by must be")
    return number


Source = Annotated[str, PlainValidator(_source)]


class Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)


class Figure(Part):
    """One number of a rule set."""

    value: Annotated[Fraction, PlainValidator(_positive)]
    unit: Annotated[str, Field(min_length=1)]
    source: Source
    confidence: Literal["published", "practice", "memory"]


class Choice(Part):
    """One word of a rule set, where texts leave a choice."""

    value: str
    source: Source
    confidence: Literal["published", "practice", "memory"]


class ModeChoice(Choice):
    value: Literal["positive", "negative"]


class RoundingChoice(Choice):
    value: Literal["sum", "term"]


class Span(Part):
    """A figure given as a range: the value that gives the low count, the planned one and the high one."""

    low: Figure
    planned: Figure
    high: Figure

    @model_validator(mode="after")
    def _in_order(self) -> Span:
        if not self.low.value >= self.planned.value >= self.high.value:
            raise ValueError("is out of order. Going from low to planned to high, each figure must not grow")
        return self


class WetShare(Part):
    method: Literal["wet_share"]
    class_2_from_pct: Figure
    class_2_to_pct: Figure
    class_at_lower_edge: Figure
    class_at_upper_edge: Figure
    class_with_bound_water: Figure


class SetByLead(Part):
    method: Literal["set_by_lead"]


class CategoryRules(Part):
    reinspect_after_h: Figure
    mould_watch_after_h: Figure
    supply_line: Figure
    appliance: Figure
    sprinkler: Figure
    toilet_bowl: Figure
    drain_backup: Figure
    sewage: Figure
    ground_water: Figure
    rain: Figure
    other: Figure
    unknown: Figure


def _classes(value: Any) -> frozenset[int]:
    if not isinstance(value, list) or any(type(each) is not int or each not in (1, 2, 3, 4) for each in value):
        raise ValueError("must be a list of classes, 1 to 4")
    return frozenset(value)


class FactorRow(Part):
    """A factor for each class, or the classes this kind of machine is refused in."""

    refused_classes: Annotated[frozenset[int], PlainValidator(_classes)]
    class_1: Figure | None = None
    class_2: Figure | None = None
    class_3: Figure | None = None
    class_4: Figure | None = None

    @model_validator(mode="after")
    def _no_hole(self) -> FactorRow:
        for number in (1, 2, 3, 4):
            if (self.factor(number) is None) != (number in self.refused_classes):
                raise ValueError(f"has a hole. Give class_{number} a figure, or list {number} in refused_classes")
        return self

    def factor(self, water_class: int) -> Figure | None:
        return {1: self.class_1, 2: self.class_2, 3: self.class_3, 4: self.class_4}[water_class]


class Dehumidification(Part):
    conventional: FactorRow
    lgr: FactorRow
    desiccant: FactorRow


class FloorAndWall(Part):
    method: Literal["floor_and_wall"]
    per_room: Figure
    per_offset: Figure
    small_room_sqft: Figure
    small_room_low: Figure
    lower_wall_ft: Figure
    rounding: RoundingChoice
    floor_sqft: Span
    upper_sqft: Span


class LinearFeet(Part):
    method: Literal["linear_feet"]
    wall_height_ft: Figure
    wall_ft: Span


class AirFiltration(Part):
    changes_per_hour: Figure
    least_changes_per_hour: Figure

    @model_validator(mode="after")
    def _floor_kept(self) -> AirFiltration:
        if self.changes_per_hour.value < self.least_changes_per_hour.value:
            raise ValueError("asks for fewer changes an hour than least_changes_per_hour. Raise changes_per_hour")
        return self


class Cavities(Part):
    category_1_mode: ModeChoice
    category_2_mode: ModeChoice
    outlets_per_bay: Figure
    outlets_per_kit: Figure


class WoodFloors(Part):
    sqft_per_kit: Figure


class Power(Part):
    continuous_share: Figure


class DryingDefaults(Part):
    low_days: Figure
    likely_days: Figure
    high_days: Figure


class RuleSet(Part):
    """Everything that a standard, a law or a habit sets for the sizing of a loss."""

    name: Annotated[str, Field(min_length=1)]
    title: Annotated[str, Field(min_length=1)]
    edition: Annotated[str, Field(min_length=1)]
    valid_from: date
    water_class: Annotated[WetShare | SetByLead, Field(discriminator="method")]
    category: CategoryRules
    dehumidification: Dehumidification
    air_movers: Annotated[FloorAndWall | LinearFeet, Field(discriminator="method")]
    air_filtration: AirFiltration
    cavities: Cavities
    wood_floors: WoodFloors
    power: Power
    drying: DryingDefaults

    @property
    def label(self) -> str:
        """Name, edition and date, as a report carries them."""
        return f"{self.name}, {self.edition}, valid from {self.valid_from.isoformat()}"


def parse_rule_set(text: str, name: str) -> RuleSet:
    """
    A rule set from TOML.

    :raises RuleSetRefused: by its name, for a hole, an unknown key, or a figure without a source.
    """
    try:
        rules = RuleSet.model_validate(tomllib.loads(text, parse_float=Decimal))
    except tomllib.TOMLDecodeError as error:
        raise RuleSetRefused(name, "file", f"This is not TOML: {error}.") from None
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        where = path_of(first["loc"]) or "file"
        message = {
            "missing": "This is missing. A rule set must hold every figure",
            "extra_forbidden": "This key means nothing here. Leave it out",
        }.get(first["type"], first["msg"].removeprefix("Value error, "))
        raise RuleSetRefused(name, where, f"{message}.") from None
    if rules.name != name:
        raise RuleSetRefused(name, "name", f"It calls itself {rules.name!r}. Name the file {rules.name}.toml.")
    return rules


@cache
def shipped_rule_sets() -> dict[str, RuleSet]:
    """The rule sets that come with the program, by name."""
    return rule_sets_in(SHIPPED_FOLDER)


def rule_sets_in(folder: Path) -> dict[str, RuleSet]:
    """
    All rule sets of a folder of TOML files, by name.

    :raises RuleSetRefused: for the first one that cannot be used.
    """
    if not folder.is_dir():
        raise RuleSetRefused(folder.name, "folder", "There is no such folder. Give one that holds TOML files.")
    found: dict[str, RuleSet] = {}
    for path in sorted(folder.glob("*.toml")):
        try:
            text = path.read_text(encoding="utf-8")
        except UnicodeDecodeError:
            raise RuleSetRefused(path.stem, "file", "This is not UTF-8. Save it as UTF-8.") from None
        found[path.stem] = parse_rule_set(text, path.stem)
    return found


def chosen_rules(name: str | None, company: Mapping[str, RuleSet] | None = None) -> RuleSet:
    """
    The rule set a loss names; null is the current default. A company's own rule set hides a shipped one of its name.

    :raises LossRefused: if no rule set has that name.
    """
    known = {**shipped_rule_sets(), **(company or {})}
    chosen = known.get(name or DEFAULT_RULES)
    if chosen is None:
        raise LossRefused(
            "rules_unknown", "rules", f"There is no rule set {name!r}. Known: {', '.join(sorted(known))}."
        )
    return chosen
