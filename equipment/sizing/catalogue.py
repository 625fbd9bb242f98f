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
from equipment.sizing.rule_set import Figure, RuleSet

REFERENCE_FILE = Path(__file__).parent / "data" / "reference_catalogue.toml"
# More than any need can ask for: the reference catalogue has no limit.
UNLIMITED = 100_000
CAPACITIES = ("rated_pints_per_day", "process_cfm", "airflow_cfm", "outlets", "covers_sqft")


@cache
def _reference_rows() -> tuple[dict[str, Any], ...]:
    rows: list[dict[str, Any]] = tomllib.loads(REFERENCE_FILE.read_text(encoding="utf-8"), parse_float=Decimal)[
        "models"
    ]
    return tuple(rows)


def reference_catalogue(rules: RuleSet) -> tuple[CatalogueEntry, ...]:
    """One machine of each kind, from the data file; kits serve what the rule set says."""
    per_kit: dict[str, dict[str, Any]] = {
        "cavity_kit": {"outlets": int(rules.cavities.outlets_per_kit.value)},
        "floor_mat_kit": {"covers_sqft": rules.wood_floors.sqft_per_kit.value},
    }
    return tuple(_entry({**row, **per_kit.get(row["kind"], {})}) for row in _reference_rows())


def is_reference(models: Sequence[CatalogueEntry]) -> bool:
    """Whether these are the reference machines, which no key of the loss names."""
    return [entry.model for entry in models] == [row["model"] for row in _reference_rows()]


def _entry(row: dict[str, Any]) -> CatalogueEntry:
    Figure.model_validate({"value": row["running_a"], "unit": "A", "source": row.pop("source"), "confidence": "memory"})
    return CatalogueEntry.model_validate({**dict.fromkeys(CAPACITIES), "free": UNLIMITED, **row})


def models_for(loss: Loss, rules: RuleSet) -> tuple[CatalogueEntry, ...]:
    """The models of a loss."""
    return reference_catalogue(rules) if loss.catalogue is None else loss.catalogue


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
