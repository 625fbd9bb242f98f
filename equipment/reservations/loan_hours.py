"""Until when lent units can be promised."""

from collections.abc import Iterable
from datetime import datetime

from django.db.models import Q

from equipment.models import Loan
from jobs.refusals import Unusable


def check(pool_ids: Iterable[int], *, starts_at: datetime, ends_at: datetime) -> None:
    """
    Nothing lent is promised outside [start, end) of its loan (1 query).

    :raises Unusable: with the loan's hours.
    """
    within = Q(starts_at__lte=starts_at, ends_at__gte=ends_at, ended_at=None)
    loan = Loan.objects.filter(models__pools__in=set(pool_ids)).exclude(within).first()
    if loan is not None:
        until = (loan.ended_at or loan.ends_at).astimezone(loan.area.zone)
        raise Unusable(
            f"These units are {loan} until {until:%b} {until.day}, {until:%H:%M}. Hold them for less, or hold ours.",
            where="ends_at",
        )
