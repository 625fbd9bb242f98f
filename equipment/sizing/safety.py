"""Refusals and cautions as data: code, kind, wording and source, with the thresholds that laws and agencies set."""

from __future__ import annotations

import tomllib
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field

from equipment.sizing.rule_set import Figure, Part, Source

SAFETY_FILE = Path(__file__).parent / "data" / "safety.toml"


class Gate(Part):
    """One refusal or caution."""

    meaning: Annotated[str, Field(min_length=1)]
    kind: Literal["refusal", "caution"]
    source: Source
    message: Annotated[str, Field(min_length=1)]


class Thresholds(Part):
    """Figures that laws and agencies set; each with its source in the file."""

    lead_before_year: Figure
    lead_room_sqft: Figure
    asbestos_until_year: Figure
    asbestos_notice_sqft: Figure
    asbestos_exempt_units: Figure
    generator_ft: Figure
    mould_small_sqft: Figure
    mould_large_sqft: Figure
    refrigerant_cold_f: Figure


class Safety(Part):
    thresholds: Thresholds
    gates: dict[str, Gate]


@cache
def safety() -> Safety:
    """Thresholds and gates as shipped."""
    document: dict[str, Any] = tomllib.loads(SAFETY_FILE.read_text(encoding="utf-8"), parse_float=Decimal)
    return Safety.model_validate(document)


def gate(code: str) -> Gate:
    return safety().gates[code]
