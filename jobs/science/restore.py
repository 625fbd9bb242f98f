"""
Dry it or replace it: what a wet assembly costs either way, from figures the user gives.

A comparison of money only. Whether an assembly may be dried at all (contamination, safety, age of the building) is
decided before, by the lead.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import Literal

CENT = Decimal("0.01")


class BadCost(ValueError):
    """A cost, count or number of days that makes no sense."""

    code = "bad_cost"


@dataclass(frozen=True, slots=True)
class DailyCost:
    """Something paid for each day of drying: so many units at a rate in dollars a day each."""

    what: str
    count: int
    rate_per_day: Decimal

    def __post_init__(self) -> None:
        if self.count < 0:
            raise BadCost(f"{self.what}: the count is {self.count}; give zero or more.")
        _not_negative(f"{self.what}: the daily rate", self.rate_per_day)

    @property
    def per_day(self) -> Decimal:
        return self.count * self.rate_per_day


@dataclass(frozen=True, slots=True)
class Comparison:
    """Dollars, to the cent. ``break_even_days`` is None where a day of drying costs nothing."""

    verdict: Literal["restore", "replace", "close"]
    per_day: Decimal
    restore_low: Decimal
    restore_likely: Decimal
    restore_high: Decimal
    replace: Decimal
    break_even_days: Decimal | None
    why: str
    working: tuple[str, ...]


def compare(
    *,
    daily: Sequence[DailyCost],
    days: tuple[Decimal | int, Decimal | int, Decimal | int],
    replacement_cost: Decimal,
    restore_fixed: Decimal = Decimal(0),
    days_if_replaced: Decimal | int = 0,
) -> Comparison:
    """
    Compare drying an assembly with replacing it.

    The verdict is ``restore`` if drying costs no more even at the high days, ``replace`` if it costs more even at the
    low days, else ``close``: then the days decide, and readings will tell.

    :param daily: what each day of drying costs (equipment, monitoring visits, lodging).
    :param days: low, likely and high days of drying.
    :param replacement_cost: taking out, material and putting back, in dollars.
    :param restore_fixed: paid once if it is dried (setting up, detaching and resetting, refinishing), in dollars.
    :param days_if_replaced: days for which the daily cost runs on all the same if it is taken out.
    :raises BadCost: if a figure is below zero or not finite, or the days are not in rising order.
    """
    low, likely, high = (Decimal(d) for d in days)
    for name, value in (("low", low), ("likely", likely), ("high", high)):
        _not_negative(f"The {name} days", value)
    if not low <= likely <= high:
        raise BadCost(f"The days are {low}, {likely}, {high}; give low, likely and high in rising order.")
    stays = Decimal(days_if_replaced)
    for name, value in (
        ("The replacement cost", replacement_cost),
        ("The fixed cost of drying", restore_fixed),
        ("The days if replaced", stays),
    ):
        _not_negative(name, value)

    per_day = sum((cost.per_day for cost in daily), Decimal(0))
    dried = [restore_fixed + per_day * d for d in (low, likely, high)]
    replaced = replacement_cost + per_day * stays
    break_even = (replaced - restore_fixed) / per_day if per_day else None
    verdict: Literal["restore", "replace", "close"]
    if dried[2] <= replaced:
        verdict = "restore"
    elif dried[0] > replaced:
        verdict = "replace"
    else:
        verdict = "close"
    return Comparison(
        verdict=verdict,
        per_day=_cents(per_day),
        restore_low=_cents(dried[0]),
        restore_likely=_cents(dried[1]),
        restore_high=_cents(dried[2]),
        replace=_cents(replaced),
        break_even_days=None if break_even is None else max(break_even, Decimal(0)).quantize(Decimal("0.1")),
        why=_why(verdict, dried, replaced, break_even),
        working=(
            *(f"{c.what}: {c.count} x ${_cents(c.rate_per_day)} = ${_cents(c.per_day)} a day" for c in daily),
            f"dry: ${_cents(restore_fixed)} + ${_cents(per_day)} x {low}, {likely}, {high} days "
            f"= ${_cents(dried[0])}, ${_cents(dried[1])}, ${_cents(dried[2])}",
            f"replace: ${_cents(replacement_cost)} + ${_cents(per_day)} x {stays} days = ${_cents(replaced)}",
        ),
    )


def _why(verdict: str, dried: Sequence[Decimal], replaced: Decimal, break_even: Decimal | None) -> str:
    span = f"${_cents(dried[0])} to ${_cents(dried[2])}"
    if verdict == "restore":
        return f"Drying costs {span}, replacing ${_cents(replaced)}: drying costs no more even if it takes longest."
    if verdict == "replace":
        return f"Drying costs {span}, replacing ${_cents(replaced)}: replacing costs less even if drying goes fastest."
    until = "" if break_even is None else f" Drying pays up to {break_even.quantize(Decimal('0.1'))} days."
    return (
        f"Drying costs {span}, replacing ${_cents(replaced)}: the days decide.{until} Compare again after each reading."
    )


def _cents(amount: Decimal) -> Decimal:
    return amount.quantize(CENT, rounding=ROUND_HALF_UP)


def _not_negative(what: str, value: Decimal) -> None:
    if not (value.is_finite() and value >= 0):
        raise BadCost(f"{what} is {value}; give zero or more.")
