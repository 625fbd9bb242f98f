"""
How a manager's override reaches the planner: as a skill of one visit, which only those hold who may make that visit.

The planner, its checker and the offers know skills only, so a plan that uses an override is checked like any other.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from dispatch import eligibility
from dispatch.crew_facts import CrewRow
from dispatch.eligibility import Reason
from dispatch.overrides import Overridden


@dataclass(frozen=True)
class Work:
    """What a visit asks for, and the job or the call that an override would have been said for."""

    skills: tuple[str, ...]
    state: str
    job_id: int | None = None
    call_id: int | None = None


def reasons(row: CrewRow, work: Work, *, now: datetime) -> tuple[Reason, ...]:
    """Everything that stands against the crew for this work, overridden or not."""
    return eligibility.all_reasons(row.facts, work.skills, work.state, on=row.on, at=max(now, row.crew.starts_at))


def word_for(row: CrewRow, work: Work, *, now: datetime) -> Overridden | None:
    """The override by which the crew may do the work all the same; None if there is none, or none is needed."""
    against = reasons(row, work, now=now)
    if not against:
        return None
    for word in row.overrides:
        if word.is_for(job_id=work.job_id, call_id=work.call_id) and word.covers(against):
            return word
    return None


def may_go_somewhere(row: CrewRow, *, now: datetime) -> bool:
    """Whether an override covers what bars the crew from any work at all, so that it may go to that loss alone."""
    unfit = eligibility.all_unfit(row.facts, at=max(now, row.crew.starts_at))
    return any(word.covers(unfit) for word in row.overrides)


def agree(
    problem: Mapping[str, Any],
    rows: Iterable[CrewRow],
    works: Mapping[str, Work],
    *,
    now: datetime,
    limited: Sequence[str],
    own: Mapping[str, str] | None = None,
) -> frozenset[tuple[str, str]]:
    """
    Give each visit that somebody may make by override a skill of its own; (crew, visit) for each override used.

    :param works: the visits to look at, by their name in the problem.
    :param limited: crews that may go nowhere else; their skills in the problem are those of their visits only.
    :param own: visits that stand on a limited crew's running route, with that crew.
    """
    crews = {crew["id"]: crew for crew in problem["crews"]}
    visits = {visit["id"]: visit for visit in problem["visits"]}
    used: set[tuple[str, str]] = set()
    with_words = [row for row in rows if row.overrides and f"c{row.crew.pk}" in crews]
    for name, work in works.items():
        spoken = {f"c{row.crew.pk}" for row in with_words if word_for(row, work, now=now) is not None}
        used |= {(crew, name) for crew in spoken}
        if own and name in own:
            spoken.add(own[name])
        if not spoken and not (limited and not work.skills):
            continue
        skill = f"agreed:{name}"
        able = {key for key, crew in crews.items() if key not in limited and set(work.skills) <= set(crew["skills"])}
        visits[name]["skills"] = [skill]
        for key in able | spoken:
            crews[key]["skills"] = sorted({*crews[key]["skills"], skill})
    return frozenset(used)
