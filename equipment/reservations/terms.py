"""For how long equipment may be promised, and an unconfirmed hold kept."""

from datetime import datetime, timedelta

from jobs.refusals import Unusable

# Ours: what is longer or further away was mistyped, such as a year for another.
LONGEST, FURTHEST, KEPT_AT_MOST = timedelta(days=400), timedelta(days=800), timedelta(days=90)


def check_period(starts_at: datetime, ends_at: datetime, now: datetime) -> None:
    """
    :raises Unusable: if the period is empty, too long, or too far ahead.
    """
    if ends_at <= starts_at:
        raise Unusable("The period ends before it starts. Give an end after the start.", where="ends_at")
    if ends_at - starts_at > LONGEST:
        raise Unusable(f"Equipment is promised for {LONGEST.days} days at most. Look at the years.", where="ends_at")
    check_moment(starts_at, now, where="starts_at")


def check_moment(at: datetime, now: datetime, *, where: str = "at") -> None:
    """
    :raises Unusable: if the moment lies too far ahead.
    """
    if at - now > FURTHEST:
        raise Unusable(f"This lies more than {FURTHEST.days} days ahead. Look at the year.", where=where)


def check_keeping(keep_for: timedelta) -> None:
    """
    :raises Unusable: if a hold would be kept for no time, or for too long.
    """
    if keep_for <= timedelta(0):
        raise Unusable("A hold must be kept for some time. Give one minute or more.", where="keep_for")
    if keep_for > KEPT_AT_MOST:
        raise Unusable(
            f"A hold that nobody confirms is kept for {KEPT_AT_MOST.days} days at most. Confirm it instead.",
            where="keep_for",
        )
