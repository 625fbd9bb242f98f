"""What was asked of a rehearsal, checked; and the result, which holds nothing of the clock or the machine."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from dispatch.rehearsal.fleets import AS_IT_IS
from dispatch.rehearsal.runs import BEFORE, PROGRAM, RULES
from dispatch.rehearsal.setting import Setting, SettingUnusable, read_setting
from dispatch.rehearsal.sim.measures import mean_of

USUAL_DAYS, MOST_DAYS = 30, 120
# A Monday in a month like the mean of the year, and one in the freezing season: the first day that is measured.
USUAL_START, STORM_START = date(2026, 3, 5), date(2026, 1, 15)
HOW = (
    "Callers, crews, machines and drying are drawn from the seed; every rule and fleet has the same callers. Offers "
    "and day plans are the planner's own, on the company as the program's tables and rules have it."
)
THROUGH = (
    "The rule named program is the program itself: every call, visit and machine of it went through its use cases, "
    "with its own timers and plans."
)


@dataclass(frozen=True)
class Comparison:
    """What is to be compared, whole."""

    setting: Setting
    company: Path
    first_day: date
    days: int
    storm: str | None
    seeds: tuple[int, ...]
    rules: tuple[str, ...]
    fleets: tuple[str, ...]
    iterations: int

    def parts(self) -> Iterator[dict[str, Any]]:
        """What each process is asked: all planner's rules of a fleet in one, the program itself seed by seed."""
        rules = [rule for rule in self.rules if rule != PROGRAM]
        for fleet in self.fleets:
            if rules:
                yield {**self._document(), "fleet": fleet, "rules": rules, "seeds": list(self.seeds)}
            if PROGRAM in self.rules:
                for seed in self.seeds:
                    yield {**self._document(), "fleet": fleet, "rules": [PROGRAM], "seeds": [seed]}

    def _document(self) -> dict[str, Any]:
        return {
            "company": str(self.company),
            "start": (self.first_day - timedelta(days=BEFORE)).isoformat(),
            "days": self.days,
            "storm": self.storm,
            "iterations": self.iterations,
        }


def asked_of(
    *,
    company: Path,
    start: str | None,
    days: int | None,
    storm: str | None,
    seeds: str,
    rules: str,
    fleets: str,
    iterations: int,
) -> Comparison:
    """
    The arguments of the command, checked before anything is done.

    :raises SettingUnusable: naming the argument that cannot be meant, and what would be right.
    """
    setting = read_setting(company)
    events = setting.trade["events"]
    if storm is not None and storm not in events:
        _refuse("--surge", f"There is no storm {storm}. Known: {', '.join(events)}.")
    days = days if days is not None else len(events[storm]["days"]) if storm else USUAL_DAYS
    if not 1 <= days <= MOST_DAYS:
        _refuse("--days", f"{days} days cannot be rehearsed; give 1 to {MOST_DAYS}.")
    if iterations < 1:
        _refuse("--iterations", "A plan searches at least one round.")
    known = (AS_IT_IS, *setting.fleets)
    return Comparison(
        setting=setting,
        company=company,
        first_day=_day(start, storm),
        days=days,
        storm=storm,
        seeds=tuple(dict.fromkeys(_seed(word) for word in _listed(seeds, "--seeds"))),
        rules=_of("--rule", _listed(rules, "--rule"), (*RULES, PROGRAM)),
        fleets=known if fleets == "all" else _of("--fleet", _listed(fleets, "--fleet"), known),
        iterations=iterations,
    )


def result_of(asked: Comparison, runs: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """The whole result: what was asked, the means by fleet and rule, every run, and what was assumed."""
    place: dict[str, dict[Any, int]] = {
        part: {value: number for number, value in enumerate(values)}
        for part, values in (("fleet", asked.fleets), ("seed", asked.seeds), ("rule", asked.rules))
    }
    figures = [name for name, value in runs[0].items() if not isinstance(value, (list, dict, str)) and name != "seed"]
    means = []
    for fleet in asked.fleets:
        for rule in asked.rules:
            mine = [run for run in runs if (run["fleet"], run["rule"]) == (fleet, rule)]
            means.append({"fleet": fleet, "rule": rule, **mean_of([{n: run[n] for n in figures} for run in mine])})
    return {
        "format": 1,
        "company": asked.company.name,
        "first_day": asked.first_day.isoformat(),
        "days": asked.days,
        "storm": asked.storm,
        "seeds": list(asked.seeds),
        "rules": list(asked.rules),
        "fleets": list(asked.fleets),
        "iterations": asked.iterations,
        "how": f"{HOW} {THROUGH}" if PROGRAM in asked.rules else HOW,
        "means": means,
        "runs": sorted(runs, key=lambda run: tuple(order[run[part]] for part, order in place.items())),
        "assumed": _assumed(asked),
    }


def _assumed(asked: Comparison) -> list[dict[str, str]]:
    """Every table that the rehearsal rests on, with its source."""
    shapes = asked.setting.trade
    names = ("hours", "months", "weekdays", "timing", "drying", "work")
    rows = [{"what": name, "source": shapes[name]["source"]} for name in names]
    rows += [{"what": f"storm: {name}", "source": row["source"]} for name, row in shapes["events"].items()]
    rows += [
        {"what": f"losses: {', '.join(name.replace('_', ' ') for name in shapes['losses'])}", "source": source}
        for source in dict.fromkeys(row["source"] for row in shapes["losses"].values())
    ]
    rows.append({"what": "calls a month, towns, payers", "source": asked.setting.own["source"]})
    fleets = asked.setting.fleets
    rows += [
        {"what": f"fleet: {name}", "source": f"{fleets[name]['words']} ({fleets[name]['source']})"}
        for name in asked.fleets
        if name in fleets
    ]
    rows.append(
        {
            "what": "left out",
            "source": "Jobs that were open before the first day, calls that need no crew, traffic, people who fall "
            "ill, sewage held back for testing, machines that break.",
        }
    )
    return rows


def _day(told: str | None, storm: str | None) -> date:
    if told is None:
        return STORM_START if storm else USUAL_START
    try:
        return date.fromisoformat(told)
    except ValueError:
        return _refuse("--from", f"{told} is no day; write it as 2026-01-15.")


def _listed(told: str, where: str) -> list[str]:
    words = [word.strip() for word in told.split(",") if word.strip()]
    return words or _refuse(where, "Nothing is named.")


def _seed(word: str) -> int:
    if word.isdigit() and len(word) < 10:
        return int(word)
    return _refuse("--seeds", f"{word} is no seed; give whole numbers of nothing or more, such as 1,2,3.")


def _of(where: str, words: Iterable[str], known: Iterable[str]) -> tuple[str, ...]:
    listed = list(known)
    for word in words:
        if word not in listed:
            _refuse(where, f"There is no {word}. Known: {', '.join(listed)}.")
    return tuple(dict.fromkeys(words))


def _refuse(where: str, message: str) -> Any:
    raise SettingUnusable(message, where=where)
