"""From cases to one figure: pure, so that any list of cases can be worked again by hand."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import ceil
from statistics import median
from typing import Literal

from dispatch.measures.cases import Case

Kind = Literal["times", "share", "total"]
# A small list says what it holds; beyond this the page shows the worst and the file holds all.
SHOWN = 200


@dataclass(frozen=True)
class Figure:
    """
    What a measure comes to over some cases.

    `value`: the median of times, the share in percent, or the total; None without a case. `high`: of times, the value
    that nine in ten do not exceed (nearest rank). `cases` are those counted; `open_cases` those that have not ended.
    """

    value: float | None
    high: float | None
    cases: int
    open_cases: int
    part: float
    whole: float


def figure(kind: Kind, cases: Sequence[Case], *, open_counts: bool = True) -> Figure:
    """One figure over the cases; with `open_counts` false, over those that have ended."""
    counted = [case for case in cases if open_counts or not case.open]
    parts = sorted(case.part for case in counted)
    part, whole = sum(parts), sum(case.whole for case in counted)
    value: float | None
    high: float | None = None
    if kind == "times":
        value = median(parts) if parts else None
        high = parts[ceil(0.9 * len(parts)) - 1] if parts else None
    elif kind == "share":
        value = 100.0 * part / whole if whole else None
    else:
        value = part
    return Figure(value, high, len(counted), sum(case.open for case in cases), part, whole)


def grouped(kind: Kind, cases: Iterable[Case], by: str, *, open_counts: bool = True) -> tuple[tuple[str, Figure], ...]:
    """A figure for each value of a label, by name; cases without one stand last under "none"."""
    groups: dict[str, list[Case]] = defaultdict(list)
    for case in cases:
        groups[getattr(case, by)].append(case)
    order = sorted(groups, key=lambda name: (name == "", name))
    return tuple((name or "none", figure(kind, groups[name], open_counts=open_counts)) for name in order)
