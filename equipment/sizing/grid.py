"""Whole numbers for the solvers: amounts on a grid so fine that no measurement notices, always on the safe side."""

from __future__ import annotations

from fractions import Fraction
from math import ceil, floor

# Six decimals, and thirds and ninths of them, stay exact; solvers count in 64 bits and cannot take every fraction.
STEPS = 9_000_000


def up(amount: Fraction) -> Fraction:
    """No less than the amount: for what is wanted and what is drawn."""
    return Fraction(ceil(amount * STEPS), STEPS)


def down(amount: Fraction) -> Fraction:
    """No more than the amount: for what a machine does and what a circuit carries."""
    return Fraction(floor(amount * STEPS), STEPS)
