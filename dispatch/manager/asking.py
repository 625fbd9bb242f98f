"""Reading which month and which cases were asked for."""

from collections.abc import Mapping
from datetime import date, datetime

from dispatch.measures.cases import Span
from dispatch.measures.tables import Chosen
from jobs.models import Area
from jobs.refusals import Unusable


def asked(query: Mapping[str, str], *, area: Area, now: datetime) -> tuple[Span, Chosen]:
    """
    The month (`month=2026-01`, else the present one) and the choice of the query.

    :raises Unusable: if the month is none.
    """
    today = now.astimezone(area.zone).date()
    given = query.get("month") or f"{today:%Y-%m}"
    try:
        month = date.fromisoformat(f"{given}-01")
    except ValueError as error:
        raise Unusable(f"{given!r} is no month. Write the year and the month: {today:%Y-%m}.", where="month") from error
    span = Span.month(area_id=area.pk, zone=area.zone, year=month.year, month=month.month, now=now)
    names = ("warehouse", "crew", "payer")
    return span, Chosen(**{name: query.get(name, "").strip() for name in names})
