"""
The whole table of the day plans: every engine on the same days, looked at on the way through one run of 60 s each.

    python -m tests.bench.planner.table --out table.md     all 16 days and four engines: about 50 minutes
    python -m tests.bench.planner.table --quick            one day of 200 and one of 400, 10 s, ours and PyVRP: 1 minute
    python -m tests.bench.planner.table --reference        best-known plans, three seeds of 2 minutes: about 3.5 hours
    python -m tests.bench.planner.table --guard            is our PyVRP model as strong as the published one: 2 minutes

Each engine has the machine to itself: run it on two quiet cores. Whatever is better than the best known is written to
``best_known.json``. Days for the table have seeds from 100 on, those for tuning seeds below 100.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterable, Sequence
from pathlib import Path
from statistics import fmean

from dispatch.planner.problem import Problem, read_problem
from dispatch.planner.warm import warm
from tests.bench.planner import days, known
from tests.bench.planner.marks import ENGINES, Looks

MARKS = (1.0, 3.0, 10.0, 30.0, 60.0)
SEEDS = {60: range(100, 105), 120: range(100, 105), 200: range(100, 103), 400: range(100, 103)}
REFERENCE_S, REFERENCE_SEEDS = 120.0, (1, 2, 3)
# PyVRP's gap to the best found on a day of 200 visits, one process on a quiet core, as measured when the engines were
# chosen; ours has two, so anything above this by more than one run differs from another means a weak model.
PUBLISHED = {1.0: 16.0, 3.0: 12.7, 10.0: 10.6, 30.0: 3.2, 60.0: 1.9}
TUNING_DAY, SPREAD = (200, 0), 2.0

Runs = dict[tuple[int, int], dict[str, Looks]]


def problem_of(visits: int, seed: int) -> Problem:
    return read_problem(json.dumps(days.day(visits, seed)))


def measured(which: Sequence[tuple[int, int]], engines: Iterable[str], marks: Sequence[float], seed: int) -> Runs:
    """Every engine on every day, one after the other; better plans go to the store as they come."""
    best = known.load()
    runs: Runs = {}
    for visits, number in which:
        problem, day = problem_of(visits, number), f"{visits}/{number}"
        if day in best and not known.holds(problem, best[day]):
            raise SystemExit(f"the plan stored for {day} is not what it says: remove its line and measure again")
        for name in engines:
            looks = ENGINES[name](problem, marks, seed)
            runs.setdefault((visits, number), {})[name] = looks
            for mark, look in looks.items():
                if look is not None:
                    known.improved(best, day, look, engine=name, seed=seed, seconds=mark)
            shown = "  ".join(f"{mark:.0f} s {look.cost if look else '-':>12}" for mark, look in looks.items())
            print(f"{day:8} {name:8} {shown}", file=sys.stderr, flush=True)
    return runs


def markdown(runs: Runs, marks: Sequence[float]) -> str:
    """Gaps to the best known by day, then by size ours against PyVRP."""
    best = known.load()
    lines = [
        "| visits/seed | best known | by | engine | " + " | ".join(f"{m:.0f} s" for m in marks) + " |",
        "| --- " * (4 + len(marks)) + "|",
    ]
    for (visits, number), engines in runs.items():
        day = best[f"{visits}/{number}"]
        for name, looks in engines.items():
            cells = [_percent(look.cost / day.cost) if (look := looks[m]) else "none yet" for m in marks]
            lines.append(f"| {visits}/{number} | {day.cost:,} | {day.engine} | {name} | {' | '.join(cells)} |")
    lines += ["", "| visits | against | " + " | ".join(f"{m:.0f} s" for m in marks) + " |"]
    lines.append("| --- " * (2 + len(marks)) + "|")
    for visits in sorted({v for v, _ in runs}):
        for other in ("PyVRP", "routing"):
            ratios = {m: _ratios(runs, visits, other, m) for m in marks}
            if any(ratios.values()):
                cells = [f"{_percent(fmean(r))} (worst {_percent(max(r))})" if r else "-" for r in ratios.values()]
                lines.append(f"| {visits} | {other} | {' | '.join(cells)} |")
    return "\n".join(lines)


def _ratios(runs: Runs, visits: int, other: str, mark: float) -> list[float]:
    """Our cost over the other's on each day where both have an answer by then."""
    pairs = [(e["own"][mark], e[other][mark]) for (v, _), e in runs.items() if v == visits and {"own", other} <= {*e}]
    return [ours.cost / theirs.cost for ours, theirs in pairs if ours is not None and theirs is not None]


def _percent(ratio: float) -> str:
    return f"{100 * (ratio - 1):+.2f} %"


def guard(seed: int) -> bool:
    """Whether our model of PyVRP does as well on a day of the published kind as the published one did on its own."""
    looks = measured([TUNING_DAY], ["own", "PyVRP"], MARKS, seed)[TUNING_DAY]["PyVRP"]
    best = known.load()["{}/{}".format(*TUNING_DAY)].cost
    sound = True
    for mark, published in PUBLISHED.items():
        look = looks[mark]
        gap = float("inf") if look is None else 100 * (look.cost / best - 1)
        weak = gap > published + SPREAD
        sound = sound and not weak
        print(f"{mark:3.0f} s  published {published:5.1f} %  ours {gap:5.1f} %  {'WEAK' if weak else 'as strong'}")
    return sound


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--reference", action="store_true")
    parser.add_argument("--guard", action="store_true")
    parser.add_argument("--visits", type=int, nargs="+", choices=SEEDS, default=list(SEEDS))
    parser.add_argument("--seconds", type=float, default=MARKS[-1], help="length of each run")
    parser.add_argument("--engines", nargs="+", choices=ENGINES, default=list(ENGINES))
    parser.add_argument("--seed", type=int, default=1, help="seed of the engines, not of the days")
    parser.add_argument("--out", type=Path)
    asked = parser.parse_args()
    warm()
    if asked.guard:
        raise SystemExit(0 if guard(asked.seed) else 1)
    which = [(visits, seed) for visits in asked.visits for seed in SEEDS[visits]]
    marks = tuple(m for m in MARKS if m <= asked.seconds) or (asked.seconds,)
    engines = asked.engines
    if asked.quick:
        which, marks, engines = [(200, 100), (400, 100)], MARKS[:3], ["own", "PyVRP"]
    if asked.reference:
        for seed in REFERENCE_SEEDS:
            measured(which, ["own", "PyVRP"], (REFERENCE_S,), seed)
        return
    written = markdown(measured(which, engines, marks, asked.seed), marks)
    print(written)
    if asked.out is not None:
        asked.out.write_text(written + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
