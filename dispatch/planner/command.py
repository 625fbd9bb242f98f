"""
The planner from outside: arguments and files in, JSON out, an exit status that can be relied on.

0: done. 1: the judge found violations. 2: the input was refused, one JSON object on standard error says why.
"""

from __future__ import annotations

import argparse
import json
import math
import sys
from collections.abc import Callable, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any, NoReturn

from dispatch.planner.check import check
from dispatch.planner.floor import floor_of
from dispatch.planner.frame import frame_of
from dispatch.planner.offers import offers
from dispatch.planner.plan import Plan, read_plan
from dispatch.planner.problem import Problem, read_problem
from dispatch.planner.reading import Refused, parse
from dispatch.planner.solve import ENGINES, Limit, Progress, solve
from dispatch.planner.travel import travel_of

DEFAULT_SECONDS = 10.0
LONGEST_SECONDS = 86_400.0
PROGRESS_S = 1.0


class _Arguments(argparse.ArgumentParser):
    def error(self, message: str) -> NoReturn:
        raise Refused("usage", "arguments", f"{message}; {' '.join(self.format_usage().split())}")


def main(argv: Sequence[str]) -> int:
    """Run one command; see the port. Writes to standard output and standard error, returns the exit status."""
    try:
        asked = _parser().parse_args(argv)
        status, lines = _COMMANDS[asked.command](asked)
    except Refused as refused:
        _write(sys.stderr, refused.as_json())
        return 2
    for line in lines:
        _write(sys.stdout, line)
    return status


def _parser() -> argparse.ArgumentParser:
    parser = _Arguments(prog="python -m dispatch.planner", allow_abbrev=False)
    commands = parser.add_subparsers(dest="command", required=True, parser_class=_Arguments)
    solving = commands.add_parser("solve", help="write a plan", allow_abbrev=False)
    solving.add_argument("problem")
    limit = solving.add_mutually_exclusive_group()
    limit.add_argument("--seconds", type=_seconds)
    limit.add_argument("--iterations", type=_count)
    solving.add_argument("--seed", type=_count, default=0)
    solving.add_argument("--start", metavar="PLAN.json")
    solving.add_argument("--engine", choices=ENGINES, default="own")
    solving.add_argument("--progress", action="store_true", help="tell cost and bound on standard error each second")
    checking = commands.add_parser("check", help="judge a plan", allow_abbrev=False)
    checking.add_argument("problem")
    checking.add_argument("plan")
    offering = commands.add_parser("offers", help="rank the crews for one visit", allow_abbrev=False)
    offering.add_argument("problem")
    offering.add_argument("plan")
    offering.add_argument("--visit", required=True)
    offering.add_argument("--at-most", type=_count, dest="at_most")
    traveling = commands.add_parser("travel", help="print the travel times used", allow_abbrev=False)
    traveling.add_argument("problem")
    return parser


def _seconds(text: str) -> float:
    try:
        seconds = float(text)
    except ValueError:
        seconds = math.nan
    if not 0 < seconds <= LONGEST_SECONDS:
        raise argparse.ArgumentTypeError(f"{text[:40]!r} is not between 0 and {LONGEST_SECONDS:.0f} seconds")
    return seconds


def _count(text: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) <= 9):
        raise argparse.ArgumentTypeError(f"{text[:40]!r} is not a whole number from 0 to 999999999")
    return int(text)


def _solve(asked: argparse.Namespace) -> tuple[int, list[dict[str, Any]]]:
    problem = _problem(asked.problem)
    start = None if asked.start is None else _plan(asked.start)
    seconds = asked.seconds if asked.seconds is not None or asked.iterations is not None else DEFAULT_SECONDS
    limit = Limit(seconds=seconds, iterations=asked.iterations)
    told = _Teller(problem) if asked.progress else None
    outcome = solve(problem, limit=limit, seed=asked.seed, start=start, engine=asked.engine, on_progress=told)
    return 0, [outcome.plan.to_json()]


class _Teller:
    """Writes ``{"seconds", "cost", "bound"}`` to standard error, a line at most every second."""

    def __init__(self, problem: Problem) -> None:
        self._floor = floor_of(frame_of(problem))
        self._last_s = -math.inf

    def __call__(self, now: Progress) -> None:
        if now.seconds - self._last_s < PROGRESS_S:
            return
        self._last_s = now.seconds
        # Until the search knows better, the bound is what holds of every plan whatever is tried.
        line = {"seconds": round(now.seconds, 1), "cost": now.cost, "bound": min(self._floor, now.cost)}
        _write(sys.stderr, line)
        sys.stderr.flush()


def _check(asked: argparse.Namespace) -> tuple[int, list[dict[str, Any]]]:
    problem = _problem(asked.problem)
    plan = parse(_bytes(asked.plan))
    violations = check(problem, plan)
    if violations:
        return 1, [asdict(violation) for violation in violations]
    return 0, [read_plan(plan).cost.model_dump(mode="json")]


def _offers(asked: argparse.Namespace) -> tuple[int, list[dict[str, Any]]]:
    problem = _problem(asked.problem)
    return 0, [offers(problem, _plan(asked.plan), asked.visit, asked.at_most).to_json()]


def _travel(asked: argparse.Namespace) -> tuple[int, list[dict[str, Any]]]:
    return 0, [travel_of(_problem(asked.problem)).model_dump(mode="json")]


_COMMANDS: dict[str, Callable[[argparse.Namespace], tuple[int, list[dict[str, Any]]]]] = {
    "solve": _solve,
    "check": _check,
    "offers": _offers,
    "travel": _travel,
}


def _problem(path: str) -> Problem:
    return read_problem(_bytes(path))


def _plan(path: str) -> Plan:
    return read_plan(_bytes(path))


def _bytes(path: str) -> bytes:
    """The file's bytes, ``-`` for standard input."""
    if path == "-":
        return sys.stdin.buffer.read()
    try:
        return Path(path).read_bytes()
    except (OSError, ValueError) as error:
        why = error.strerror if isinstance(error, OSError) and error.strerror else "this cannot be a file's name"
        raise Refused("file", "arguments", f"{path!a} cannot be read: {why}; give a file that can be, or -") from None


def _write(stream: Any, value: dict[str, Any]) -> None:
    line = json.dumps(value, ensure_ascii=True, separators=(", ", ": "))
    stream.write(line + "\n")
