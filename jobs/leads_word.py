"""What the lead decided, kept beside what the program suggested."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.contrib.auth.models import User

from jobs import journal
from jobs.models import Job, LeadsWord
from jobs.refusals import NotThere, Refusal, Unusable
from jobs.use_case import use_case
from jobs.visits import locked_job

MOST_TOPIC_LETTERS = 100


class WordNeedsReason(Refusal):
    """A word against a suggestion says why, so that suggestions improve."""

    code = "word_needs_reason"
    status = 422


@dataclass(frozen=True)
class WordKept:
    """The lead's word as kept."""

    word_id: int
    topic: str
    word: Any


@use_case("set_leads_word")
def set_leads_word(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    job_id: int,
    topic: str,
    word: Any,
    reason: str,
    suggestion: Any = None,
) -> WordKept:
    """
    Keep the lead's word on a topic: `category` (1 to 3), `class:CHAMBER` (1 to 4), or any other by its own name, such
    as an equipment count. The two named ones also become what sizing reads.

    :raises WordNeedsReason: without a reason.
    """
    job = locked_job(job_id)
    if not reason.strip():
        raise WordNeedsReason("Say in a few words why.", where="reason")
    if topic == "category":
        job.category = _one_of(word, (1, 2, 3))
        job.save(update_fields=["category"])
    elif topic.startswith("class:"):
        _set_class(job, topic.removeprefix("class:"), _one_of(word, (1, 2, 3, 4)))
    elif not topic or len(topic) > MOST_TOPIC_LETTERS:
        raise Unusable(f"Name the topic in at most {MOST_TOPIC_LETTERS} characters.", where="topic")
    row = LeadsWord.objects.create(
        job=job,
        topic=topic,
        suggestion=suggestion,
        word=word,
        reason=reason.strip()[:300],
        said_by=actor,
        said_at=now,
    )
    journal.note(kind="leads_word_set", actor=actor, now=now, job=job, data={"topic": topic, "word": word})
    return WordKept(row.pk, topic, word)


def _one_of(word: Any, allowed: tuple[int, ...]) -> int:
    if word not in allowed or isinstance(word, bool):
        raise Unusable(f"One of {', '.join(map(str, allowed))} is wanted.", where="word")
    return int(word)


def _set_class(job: Job, chamber_name: str, word: int) -> None:
    changed = job.chambers.filter(name=chamber_name).update(class_set=word)
    if not changed:
        raise NotThere(f"The job has no chamber {chamber_name!r}.", where="topic")
