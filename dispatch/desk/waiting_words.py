"""What waits because nobody does timed work, in a dispatcher's words."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from dispatch import callouts, notify, planning, what_if
from jobs import due_work
from jobs.models import DueWork

SOLVED = {planning.RUN, what_if.ANSWER}
# Plans wait for one another, so that alone they say nothing until this long.
PLANS_MAY_WAIT = timedelta(minutes=10)
NAMED = (
    ({notify.SEND}, "message", "messages"),
    ({callouts.ESCALATE}, "call-out that should go on to the next person", "call-outs that should go on"),
    (SOLVED, "plan", "plans"),
)


def waiting_words(*, now: datetime, zone: ZoneInfo) -> str:
    """One paragraph for the board, or "" while everything due is being done (1 query)."""
    late = due_work.late_work(now=now)
    if late is None or (late.by_kind.keys() <= SOLVED and now - late.since < PLANS_MAY_WAIT):
        return ""
    left = dict(late.by_kind)
    parts = []
    for kinds, one, many in NAMED:
        number = sum(left.pop(kind, 0) for kind in kinds)
        if number:
            parts.append(f"{number} {one if number == 1 else many}")
    if others := sum(left.values()):
        parts.append(f"{others} other {'task' if others == 1 else 'tasks'}")
    listed = parts[0] if len(parts) == 1 else ", ".join(parts[:-1]) + f" and {parts[-1]}"
    return (
        f"Waiting since {late.since.astimezone(zone):%-I:%M %p}, because nothing in the background answers: {listed}. "
        "Everything is kept and is done by itself as soon as that works again. Until then call people yourself, and "
        "tell whoever looks after this program."
    )


def not_begun(plan_id: int) -> bool:
    """Whether a plan that was asked for is still in the queue (1 query)."""
    return DueWork.objects.filter(kind=planning.RUN, arguments__plan_id=plan_id, state=DueWork.State.PENDING).exists()


__all__ = ["not_begun", "waiting_words"]
