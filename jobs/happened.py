"""When something really happened, as a device without a network kept it."""

from datetime import datetime, timedelta

from jobs.refusals import Unusable

# A phone's clock may be this little ahead of ours; what it recorded by now has happened by now (from memory).
CLOCK_AHEAD = timedelta(seconds=30)
# A device that kept something longer than this has a wrong clock more likely than a network away (from memory).
LONGEST_KEPT = timedelta(days=31)


def when(happened_at: datetime | None, now: datetime) -> datetime:
    """
    The time of what happened: as the device says, never later than now.

    :raises Unusable: if it lies in the future, or further back than a device keeps anything.
    """
    if happened_at is None:
        return now
    if happened_at > now + CLOCK_AHEAD:
        raise Unusable("This lies in the future. Check the device's clock.", where="happened_at")
    if happened_at < now - LONGEST_KEPT:
        raise Unusable(
            f"This lies more than {LONGEST_KEPT.days} days back. Check the device's clock.", where="happened_at"
        )
    return min(happened_at, now)
