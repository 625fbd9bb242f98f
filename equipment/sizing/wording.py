"""Numbers as a crew lead and an adjuster read them, and as the report writes them."""

from __future__ import annotations

from fractions import Fraction

SHOWN_DECIMALS = 4
MOST_DECIMALS = 12


def plain(number: Fraction | int | float) -> str:
    """At most four decimals, no trailing zeros: ``23.04``, ``106.6667``, ``3``."""
    exact = Fraction(number)
    if exact.denominator == 1:
        return str(exact.numerator)
    text = f"{float(round(exact, SHOWN_DECIMALS)):.{SHOWN_DECIMALS}f}".rstrip("0").rstrip(".")
    return "0" if text in {"", "-0"} else text


def plain_beside(number: Fraction | int | float, *others: Fraction | int | float) -> str:
    """The same with as many decimals as tell it from ``others``: ``3.00002`` beside 3, so that its rounding is seen."""
    exact, limits = Fraction(number), [Fraction(other) for other in others]
    if any(exact != limit and round(exact, SHOWN_DECIMALS) == limit for limit in limits):
        for decimals in range(SHOWN_DECIMALS + 1, MOST_DECIMALS + 1):
            shown = round(exact, decimals)
            if shown not in limits:
                return f"{float(shown):.{decimals}f}"
    return plain(exact)


def bare(number: Fraction | int | float) -> int | float:
    """A JSON number: whole where it is whole, else the closest float."""
    exact = Fraction(number)
    return exact.numerator if exact.denominator == 1 else float(exact)


def counted(number: int, thing: str) -> str:
    """``1 room``, ``3 rooms``."""
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"
