"""Collects, while a loss is sized, the sum behind each figure and the notices that go with it."""

from __future__ import annotations

from dataclasses import dataclass, field

from equipment.sizing.report import Notice, Row
from equipment.sizing.safety import gate

OWN_ARITHMETIC = "arithmetic on the figures given"


@dataclass
class Working:
    """Rows, refusals and cautions in the order in which they arise."""

    rows: list[Row] = field(default_factory=list)
    refusals: list[Notice] = field(default_factory=list)
    cautions: list[Notice] = field(default_factory=list)

    def row(self, where: str, sum_: str, source: str = OWN_ARITHMETIC) -> None:
        self.rows.append(Row(where, sum_, source))

    def refuse(self, code: str, where: str, **facts: str) -> None:
        self.refusals.append(_notice(code, where, facts, "refusal"))

    def caution(self, code: str, where: str, **facts: str) -> None:
        self.cautions.append(_notice(code, where, facts, "caution"))


def _notice(code: str, where: str, facts: dict[str, str], kind: str) -> Notice:
    known = gate(code)
    if known.kind != kind:
        raise ValueError(f"{code} is a {known.kind}, not a {kind}.")
    return Notice(code, where, known.message.format_map(facts), known.source)
