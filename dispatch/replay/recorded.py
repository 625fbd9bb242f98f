"""The recorded use-case calls that somebody made, in the order in which they were made; timers make theirs again."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any
from uuid import uuid5
from zoneinfo import ZoneInfo

from dispatch.replay.play import LINE, REPLAY
from jobs.models import UseCaseCall
from jobs.people import system_user

IMPORT = "import_company"
# Sign-ins of programs and practice are no part of a night; what is erased is erased already.
NO_PART = frozenset(
    {"make_token", "revoke_token", "hear_practice_line", "ring_practice_call", "erase_on_schedule", "run_plan", LINE}
)
# Done by the program at somebody's word: by a link, and by the loading of the demo.
AT_SOMEBODYS_WORD = frozenset({"answer_by_link", "tell_demo_job", "write_demo_hours", IMPORT})
_BY_HAND = 4  # the version of a key that was drawn at random; a timer's follows from its row


@dataclass(frozen=True)
class Deed:
    """One call of a use case: what was asked and what came of it. `refused` is the code of the refusal, if any."""

    verb: str
    who: str
    at: datetime
    arguments: dict[str, Any]
    private: frozenset[str]
    answer: Any = None
    refused: str = ""


@dataclass(frozen=True)
class Record:
    """What was imported, one import after the other, and what was done."""

    imports: tuple[Deed, ...] = field(default_factory=tuple)
    deeds: tuple[Deed, ...] = field(default_factory=tuple)


def read_record(*, until: datetime) -> Record:
    """Everything that was recorded before `until`. A call that joined another's transaction has no row of its own."""
    imports: list[Deed] = []
    deeds: list[Deed] = []
    for deed in _deeds(until):
        (imports if deed.verb == IMPORT and not deeds else deeds).append(deed)
    return Record(tuple(imports), tuple(deeds))


def _deeds(until: datetime) -> Iterator[Deed]:
    program, steps = system_user().pk, _steps_of_a_replay()
    rows = UseCaseCall.objects.filter(now__lt=until).exclude(verb__in=NO_PART).select_related("actor").order_by("pk")
    for row in rows.iterator():
        by_program = row.actor_id == program and row.verb not in AT_SOMEBODYS_WORD
        if by_program and row.key.version != _BY_HAND and row.key not in steps:
            continue
        private = row.private_arguments or {}
        yield Deed(
            row.verb,
            row.actor.get_username(),
            row.now,
            {**row.arguments, **private},
            frozenset(private),
            row.answer,
            (row.refusal or {}).get("code", "unknown") if row.outcome == UseCaseCall.Outcome.REFUSED else "",
        )


def _steps_of_a_replay() -> frozenset[Any]:
    """The keys of what a replay's own steps did here, if this database was made by one."""
    lines = UseCaseCall.objects.filter(verb=LINE).values_list("answer__step", "answer__do")
    return frozenset(uuid5(REPLAY, f"{number} {verb}") for number, verb in lines)


def local_day(imported: Deed) -> date:
    """The day from which an import's relative days count."""
    if imported.arguments.get("today"):
        return date.fromisoformat(imported.arguments["today"])
    sheets = imported.arguments.get("sheets", ())
    zones = [row["cells"].get("time_zone") for sheet in sheets if sheet["name"] == "areas" for row in sheet["rows"]]
    return imported.at.astimezone(ZoneInfo(zones[0]) if zones else imported.at.tzinfo).date()
