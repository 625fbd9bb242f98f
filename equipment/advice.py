"""What to change at a job as its readings stand, each with what the lead decided on it: the decision is kept beside."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.contrib.auth.models import User

from equipment.leads_topics import ADVICE
from equipment.models import SizingReport, UnitNow
from equipment.sizing.advice import Advice, PointSeen, UnitsStanding, Wanted, advise
from jobs.drying_log import DryingLog, PointLine, drying_log
from jobs.leads_word import WordKept, set_leads_word
from jobs.models import LeadsWord, Room
from jobs.refusals import NotThere
from jobs.rules import figure

FOLLOWED, NOT_FOLLOWED = "done so", "not done"


class NoSuchAdvice(NotThere):
    """What was decided on is not suggested any more: the readings or the equipment have changed."""

    code = "advice_not_found"


@dataclass(frozen=True)
class LeadsDecision:
    """What the lead decided on a suggestion, why, who and when."""

    word: str
    reason: str
    by: str
    at: datetime


@dataclass(frozen=True)
class AdviceLine:
    """One suggestion with its working, and the decision on just this one; none yet."""

    key: str
    do: str
    what: str
    working: str
    decided: LeadsDecision | None


def advice_of(job_id: int, *, now: datetime, log: DryingLog | None = None) -> tuple[AdviceLine, ...]:
    """Every suggestion at the job (4 queries, and those of the log where it is not given)."""
    words: dict[str, LeadsWord] = {}
    for word in LeadsWord.objects.filter(job_id=job_id).select_related("said_by").order_by("said_at", "pk"):
        words[word.topic] = word
    found = _advise(job_id, drying_log(job_id) if log is None else log, words, now)
    return tuple(
        AdviceLine(each.key, each.do, each.what, each.working, _decision(each, words.get(f"{ADVICE}:{each.key}")))
        for each in found
    )


def decide_on_advice(
    *, key: UUID, actor: User, now: datetime, job_id: int, advice: str, follow: bool, reason: str = "", seen: str = ""
) -> WordKept:
    """
    Keep the lead's decision on a suggestion, beside what they saw of it (`seen`; what is suggested now if not given).

    :raises NoSuchAdvice: if nothing like it is suggested now and it is not said what was seen.
    :raises WordNeedsReason: if the lead decides against it and does not say why.
    """
    suggestion = seen or next((each.what for each in advice_of(job_id, now=now) if each.key == advice), "")
    if not suggestion:
        raise NoSuchAdvice("This is not suggested any more: readings or equipment have changed. Look again.")
    return set_leads_word(
        key=key,
        actor=actor,
        now=now,
        job_id=job_id,
        topic=f"{ADVICE}:{advice}",
        word=FOLLOWED if follow else NOT_FOLLOWED,
        reason=reason.strip() or ("as suggested" if follow else ""),
        suggestion=suggestion,
    )


def _advise(job_id: int, log: DryingLog, words: Mapping[str, LeadsWord], now: datetime) -> tuple[Advice, ...]:
    rooms = dict(Room.objects.filter(chamber__job_id=job_id).values_list("name", "chamber__name"))
    only = next(iter(rooms.values()), "the whole loss") if len(set(rooms.values())) <= 1 else ""

    def chamber(room: str) -> str:
        return rooms.get(room) or only or "the whole loss"

    there = UnitNow.objects.filter(holder__job_id=job_id).values_list("unit__model__kind", "room_name")
    counts = Counter((kind, room) for kind, room in there)
    return advise(
        points=[_point(line, chamber(line.room_name)) for line in log.points],
        standing=[UnitsStanding(kind, room, chamber(room), count) for (kind, room), count in sorted(counts.items())],
        wanted=_wanted(job_id, words),
        no_progress_h=figure("no_progress_hours", on=now.date()),
    )


def _point(line: PointLine, chamber: str) -> PointSeen:
    fell = over_h = None
    if line.last is not None and line.before is not None:
        fell = round(line.before.value - line.last.value, 3)
        over_h = (line.last.taken_at - line.before.taken_at).total_seconds() / 3600
    return PointSeen(
        line.number, line.room_name, chamber, line.goal, None if line.last is None else line.last.value, fell, over_h
    )


def _wanted(job_id: int, words: Mapping[str, LeadsWord]) -> list[Wanted]:
    """What the newest sizing wants of each kind in each chamber, or what the lead set instead (1 query)."""
    report = SizingReport.objects.filter(job_id=job_id).order_by("-made_at", "-pk").values_list("report", flat=True)
    counts: Counter[tuple[str, str]] = Counter()
    for row in (report.first() or {}).get("mix", ()):
        if row["chamber"]:
            counts[row["kind"], row["chamber"]] += row["count"]
    found = []
    for (kind, chamber), count in counts.items():
        word = words.get(f"{kind}:{chamber}")
        own = word is not None and isinstance(word.word, int)
        found.append(
            Wanted(kind, chamber, word.word if word is not None and own else count, "the lead" if own else "the sizing")
        )
    return found


def _decision(advice: Advice, word: LeadsWord | None) -> LeadsDecision | None:
    """The newest word on it, unless what was suggested then was another figure."""
    if word is None or word.suggestion != advice.what:
        return None
    who = word.said_by.get_full_name() or word.said_by.get_username()
    return LeadsDecision(str(word.word), word.reason, who, word.said_at)
