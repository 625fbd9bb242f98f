"""Help between areas: asked for with a reason, given as one crew for one day, or declined with a reason."""

from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.contrib.auth.models import User
from django.db.models import Q

from dispatch.models import Crew, HelpRequest, Stop
from jobs import access, journal
from jobs.models import Area
from jobs.refusals import NotThere, Refusal, Unusable
from jobs.use_case import use_case

State = HelpRequest.State


class HelpOver(Refusal):
    """The request for help was answered or taken back before."""

    code = "help_over"


class CrewHasRoute(Refusal):
    """A crew that has stops of its own is not lent; they would lose their crew unseen."""

    code = "crew_has_route"


@dataclass(frozen=True)
class HelpAnswered:
    """A request for help as it stands after this."""

    help_id: int
    state: str
    crew_id: int | None


@dataclass(frozen=True)
class HelpLine:
    """A request in the list of one area: asked by us, or of us, with the crews that we could give."""

    help_id: int
    ours: bool
    area: str
    of_area: str
    day: date
    why: str
    state: str
    asked_by: str
    asked_at: datetime
    reason: str
    crew: str
    could_give: tuple[tuple[int, str], ...]


@use_case("ask_for_help")
def ask_for_help(
    *, key: UUID, actor: User, now: datetime, area_id: int, of_area_code: str, day: date, why: str
) -> HelpAnswered:
    """
    Ask another area for a crew on one day.

    :raises NotThere: if there is no such area.
    :raises Unusable: if it is the same area, the day is over, or no reason is given.
    """
    area = Area.objects.get(pk=area_id)
    other = Area.objects.filter(code=of_area_code).first()
    if other is None:
        raise NotThere(f"There is no area {of_area_code!r}.", where="of_area_code")
    if other == area:
        raise Unusable("Ask another area than your own.", where="of_area_code")
    if day < now.astimezone(area.zone).date():
        raise Unusable("That day is over. Ask for today or later.", where="day")
    if not why.strip():
        raise Unusable("Say why: the other area gives up a crew for it.", where="why")
    row = HelpRequest.objects.create(
        key=key, area=area, of_area=other, day=day, why=why.strip()[:200], asked_at=now, asked_by=actor
    )
    for place in (area, other):
        journal.note(kind="help_asked", actor=actor, now=now, area_id=place.pk, data={"help": row.pk})
    return _said(row)


@use_case("give_help")
def give_help(*, key: UUID, actor: User, now: datetime, help_id: int, crew_id: int) -> HelpAnswered:
    """
    Lend a crew of that day: it is the asking area's until the day is over, and comes home by itself.

    :raises HelpOver: if the request was answered before.
    :raises NotThere: if the area that was asked has no such crew on that day.
    :raises CrewHasRoute: if the crew has stops.
    """
    row = _open(help_id)
    crew = Crew.objects.select_for_update().filter(pk=crew_id, area=row.of_area, service_day=row.day).first()
    if crew is None:
        raise NotThere(f"{row.of_area.name} has no such crew on {row.day:%B} {row.day.day}.", where="crew_id")
    if Stop.objects.filter(crew=crew).exists():
        raise CrewHasRoute(
            f"{crew.name} has stops that day. Put them on other routes first, or give another crew.", where="crew_id"
        )
    if Crew.objects.filter(area=row.area, service_day=row.day, name=crew.name).exists():
        crew.name = f"{crew.name} {row.of_area.name}"[:40]
    crew.area = row.area
    crew.save(update_fields=["area", "name"])
    row.crew = crew
    return _answer(row, State.GIVEN, actor, now)


@use_case("decline_help")
def decline_help(*, key: UUID, actor: User, now: datetime, help_id: int, reason: str) -> HelpAnswered:
    """
    Say that no crew can be spared.

    :raises HelpOver: if the request was answered before.
    :raises Unusable: without a reason.
    """
    row = _open(help_id)
    if not reason.strip():
        raise Unusable("Say why not: the asking area plans on.", where="reason")
    row.reason = reason.strip()[:200]
    return _answer(row, State.DECLINED, actor, now)


@use_case("take_back_help")
def take_back_help(*, key: UUID, actor: User, now: datetime, own_help_id: int) -> HelpAnswered:
    """
    Say that the help is not needed any more, while nobody has answered.

    :raises HelpOver: if the request was answered before.
    """
    return _answer(_open(own_help_id), State.TAKEN_BACK, actor, now)


def help_list(viewer: User, *, since: date) -> tuple[HelpLine, ...]:
    """Requests by and of the viewer's areas from a day on, the open ones first (2 queries)."""
    rows = HelpRequest.objects.filter(day__gte=since).select_related("area", "of_area", "crew", "asked_by")
    mine = access.areas_of(viewer)
    if mine is not None:
        rows = rows.filter(Q(area__in=mine) | Q(of_area__in=mine))
    found = sorted(rows, key=lambda row: (row.state != State.ASKED, row.day, row.pk))
    asked = [(row.of_area_id, row.day) for row in found if row.state == State.ASKED]
    free = Crew.objects.filter(
        area__in=[area for area, _ in asked], service_day__in=[day for _, day in asked], stops__isnull=True
    )
    could: dict[tuple[int, date], list[tuple[int, str]]] = {}
    for crew in free.order_by("name"):
        could.setdefault((crew.area_id, crew.service_day), []).append((crew.pk, crew.name))
    return tuple(_line(row, mine, tuple(could.get((row.of_area_id, row.day), ()))) for row in found)


def _open(help_id: int) -> HelpRequest:
    row = (
        HelpRequest.objects.select_for_update(of=("self",)).select_related("area", "of_area").filter(pk=help_id).first()
    )
    if row is None:
        raise NotThere(f"There is no request for help {help_id}.")
    if row.state != State.ASKED:
        raise HelpOver(f"This request is {row.get_state_display()}. Ask anew if a crew is still needed.")
    return row


def _answer(row: HelpRequest, state: HelpRequest.State, actor: User, now: datetime) -> HelpAnswered:
    row.state, row.answered_at, row.answered_by = state, now, actor
    row.save(update_fields=["state", "answered_at", "answered_by", "reason", "crew"])
    for area_id in (row.area_id, row.of_area_id):
        journal.note(kind=f"help_{state}", actor=actor, now=now, area_id=area_id, data={"help": row.pk})
    return _said(row)


def _said(row: HelpRequest) -> HelpAnswered:
    return HelpAnswered(row.pk, row.state, row.crew_id)


def _line(row: HelpRequest, mine: frozenset[int] | None, could: tuple[tuple[int, str], ...]) -> HelpLine:
    return HelpLine(
        row.pk,
        mine is None or row.area_id in mine,
        row.area.name,
        row.of_area.name,
        row.day,
        row.why,
        row.state,
        row.asked_by.get_full_name() or row.asked_by.username,
        row.asked_at,
        row.reason,
        row.crew.name if row.crew else "",
        could if row.state == State.ASKED and (mine is None or row.of_area_id in mine) else (),
    )
