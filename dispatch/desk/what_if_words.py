"""What was asked about a plan, and the answers, in a dispatcher's words."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import time
from typing import Any

from dispatch.models import Plan
from jobs.models import DueWork

PER_DOLLAR = 10_000


@dataclass(frozen=True)
class Told:
    """One question and its answer; `waiting` while it is being solved."""

    question: str
    lines: tuple[str, ...]
    waiting: bool


@dataclass(frozen=True)
class WhatIfs:
    """The questions so far, newest first, and what can be asked: crews and visits with a window, by key and name."""

    told: tuple[Told, ...]
    crews: tuple[tuple[str, str], ...]
    visits: tuple[tuple[str, str], ...]

    @property
    def waiting(self) -> bool:
        return any(row.waiting for row in self.told)


def what_ifs(plan: Plan, names: Mapping[str, str]) -> WhatIfs | None:
    """
    None while the plan has no outcome; one query.

    :param names: what a crew's or visit's key in the problem is called.
    """
    if plan.problem is None or plan.outcome is None:
        return None
    rows = DueWork.objects.filter(pk__in=plan.progress.get("what_ifs", [])).order_by("-pk")
    crews = tuple((row["id"], names.get(row["id"], row["id"])) for row in plan.problem["crews"])
    windows = tuple(
        (row["id"], names[row["id"]]) for row in plan.problem["visits"] if row["window"] and row["id"] in names
    )
    return WhatIfs(tuple(_told(row, names) for row in rows), crews, windows)


def _told(row: DueWork, names: Mapping[str, str]) -> Told:
    waiting = row.state in (DueWork.State.PENDING, DueWork.State.RUNNING)
    if waiting:
        lines: tuple[str, ...] = ("Being worked out.",)
    elif row.result is None:
        lines = ("No answer could be worked out. Ask again.",)
    elif "failure" in row.result:
        lines = (f"No answer: {row.result['failure']}",)
    else:
        lines = tuple(_lines(row.result, row.arguments, names))
    return Told(_question(row.arguments, names), lines, waiting)


def _question(asked: Mapping[str, Any], names: Mapping[str, str]) -> str:
    subject = names.get(asked["subject"], asked["subject"])
    if asked["what"] == "window":
        return f"{subject}: the window {asked['wider_min']} minutes wider at both ends"
    until = time.fromisoformat(asked["until"])
    return f"One more crew like {subject}, until {until:%-I:%M %p}"


def _lines(result: Mapping[str, Any], asked: Mapping[str, Any], names: Mapping[str, str]) -> list[str]:
    saved = result["before"] - result["after"]
    costs = f"The day would cost {_dollars(result['after'])} instead of {_dollars(result['before'])}"
    lines = [
        f"{costs}: {_dollars(abs(saved))} {'less' if saved > 0 else 'more'}." if saved else "The cost stays as it is."
    ]
    if result["served"]:
        lines.append(f"Gets in: {_named(result['served'], names)}.")
    if result["left_out"]:
        lines.append(f"Falls out: {_named(result['left_out'], names)}.")
    if not result["served"] and not result["left_out"]:
        lines.append("The same visits are made and left out.")
    if asked["what"] == "crew":
        stops = result["extra_stops"]
        lines.append(
            f"The extra crew would make {stops} stop{'' if stops == 1 else 's'}."
            if stops
            else "The extra crew would stay in."
        )
    overtime_min = round(abs(result["overtime_saved_s"]) / 60)
    if overtime_min:
        lines.append(f"{overtime_min} minutes {'less' if result['overtime_saved_s'] > 0 else 'more'} overtime.")
    if result["moved"]:
        lines.append(f"{result['moved']} other visit{'' if result['moved'] == 1 else 's'} would change hour or crew.")
    return lines


def _named(keys: list[str], names: Mapping[str, str]) -> str:
    return ", ".join(names.get(key, key) for key in keys if key.startswith("v") or key in names)


def _dollars(units: int) -> str:
    return f"${units / PER_DOLLAR:,.2f}"
