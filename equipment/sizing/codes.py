"""Every code that leaves the sizing port, as data: input refusals, refusals and cautions."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Literal

from equipment.sizing.safety import safety

INPUT_CODES = {
    "blank": "a name is blank",
    "class_required": "the rule set works no class out and the lead gave none",
    "contradiction": "two values of a room exclude each other",
    "encoding": "the input is not UTF-8",
    "file": "the input file cannot be read",
    "impossible": "a value cannot be together with its neighbours, such as more wet floor than floor",
    "json": "the input is not one JSON document",
    "missing_key": "a key is missing",
    "model_unknown": "the lead adds a model that is not in the catalogue",
    "not_a_number": "NaN or an infinite number",
    "not_unique": "two chambers, rooms of a chamber, or models share a name",
    "out_of_range": "a value is outside its limits",
    "repeated_key": "an object names a key twice",
    "rule_set": "a company's rule set has a hole or a figure without a source",
    "rules_unknown": "no rule set has the name given",
    "text": "a name holds control characters",
    "too_large": "the input is too long",
    "unknown_key": "a key that means nothing",
    "unknown_word": "a word that is not one of the choices",
    "usage": "the command was called in another way than it can be",
    "wrong_type": "a value of another type",
}


@dataclass(frozen=True)
class Code:
    """A stable code; ``kind`` says what it does to the sizing."""

    code: str
    kind: Literal["input", "refusal", "caution"]
    meaning: str


@cache
def all_codes() -> tuple[Code, ...]:
    """All codes, sorted: the list that the documentation is held against."""
    inputs = [Code(code, "input", meaning) for code, meaning in INPUT_CODES.items()]
    gates = [Code(code, gate.kind, gate.meaning) for code, gate in safety().gates.items()]
    return tuple(sorted(inputs + gates, key=lambda each: (each.kind, each.code)))
