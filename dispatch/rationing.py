"""When there is not enough for all: what a stabilizing visit brings at most, and what is short. No database here."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import ceil

from dispatch.rules import figure

Load = dict[str, int]
DEHUMIDIFIERS = ("lgr", "conventional", "desiccant")


@dataclass(frozen=True)
class Scarce:
    """
    One kind of which there is not enough for all: `free` units, of which `reserve` are kept back.

    `wanted` by this loss, while `waiting` other callers are to get at least the `cap` of a stabilizing visit each.
    """

    kind: str
    free: int
    reserve: int
    wanted: int
    waiting: int
    cap: int

    @property
    def short(self) -> int:
        """How many units are missing for all of it."""
        return self.wanted + self.waiting * self.cap - max(0, self.free - self.reserve)


def caps() -> dict[str, int]:
    """The most of each kind that a stabilizing visit leaves; of dehumidifiers that number in all, whatever the kind."""
    return {
        "air_mover": figure("stabilizing_air_movers"),
        "afd": figure("stabilizing_afds"),
        **dict.fromkeys(DEHUMIDIFIERS, figure("stabilizing_dehumidifiers")),
    }


def capped(needed: Mapping[str, int]) -> Load:
    """What a stabilizing visit brings of a need: nothing of a kind without a cap, and the caps of the others."""
    most = caps()
    load = {kind: min(count, most.get(kind, 0)) for kind, count in needed.items()}
    left = figure("stabilizing_dehumidifiers")
    for kind in DEHUMIDIFIERS:
        load[kind] = min(load.get(kind, 0), left)
        left -= load[kind]
    return {kind: load[kind] for kind in sorted(load) if load[kind] > 0}


def scarce(
    needed: Mapping[str, int], *, free: Mapping[str, int], stock: Mapping[str, int], waiting: int
) -> tuple[Scarce, ...]:
    """
    The kinds of which the loss, the reserve and a stabilizing visit for each other caller ask more than is free.

    :param free: units promised to nobody, by kind; `stock` all that can work, of which a share is kept back.
    """
    most, share = caps(), figure("stabilizing_reserve_percent")
    rows = (
        Scarce(
            kind=kind,
            free=max(0, free.get(kind, 0)),
            reserve=ceil(stock.get(kind, 0) * share / 100),
            wanted=needed[kind],
            waiting=waiting,
            # The one dehumidifier of a visit is of the first kind that the loss asks for.
            cap=most.get(kind, 0) if kind in capped(needed) else 0,
        )
        for kind in sorted(needed)
        if needed[kind] > 0
    )
    return tuple(row for row in rows if row.short > 0)
