"""The models a loss may be met with: the stock given, or one reference machine of each kind without limit."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

from equipment.sizing.loss import Also, CatalogueEntry, Loss
from equipment.sizing.refused import LossRefused
from equipment.sizing.rule_set import Figure

REFERENCE_FILE = Path(__file__).parent / "data" / "reference_catalogue.toml"
# More than any need can ask for: the reference catalogue has no limit.
UNLIMITED = 100_000
CAPACITIES = ("rated_pints_per_day", "process_cfm", "airflow_cfm", "outlets", "covers_sqft")


@cache
def reference_catalogue() -> tuple[CatalogueEntry, ...]:
    """One machine of each kind, from the data file; every row must name its source."""
    rows: list[dict[str, Any]] = tomllib.loads(REFERENCE_FILE.read_text(encoding="utf-8"), parse_float=Decimal)[
        "models"
    ]
    return tuple(_entry(dict(row)) for row in rows)


def _entry(row: dict[str, Any]) -> CatalogueEntry:
    Figure.model_validate({"value": row["running_a"], "unit": "A", "source": row.pop("source"), "confidence": "memory"})
    return CatalogueEntry.model_validate({**dict.fromkeys(CAPACITIES), "free": UNLIMITED, **row})


def models_for(loss: Loss) -> tuple[CatalogueEntry, ...]:
    """The models of a loss."""
    return reference_catalogue() if loss.catalogue is None else loss.catalogue


def amps_by_model(models: Sequence[CatalogueEntry]) -> dict[str, Fraction]:
    return {entry.model: entry.running_a for entry in models}


def check_also(also: Sequence[Also], models: Sequence[CatalogueEntry]) -> None:
    """
    The lead's additional units are of models that are known here.

    :raises LossRefused: for the first one that is not.
    """
    known = {entry.model for entry in models}
    for index, extra in enumerate(also):
        if extra.model not in known:
            raise LossRefused(
                "model_unknown",
                f"also[{index}].model",
                f"No model {extra.model!r} is in the catalogue. Give one of: {', '.join(sorted(known)) or 'none'}.",
            )
