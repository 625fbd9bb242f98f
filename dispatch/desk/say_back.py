"""The say-back at the end of a call: who comes, when, what to do until then, our number."""

from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from dispatch.models import CallOut, Stop
from jobs.calls.hazards import WHILE_WAITING, Hazard, to_say
from jobs.facts import CallFacts
from jobs.models import Visit


@dataclass(frozen=True)
class SayBack:
    """What is read aloud, and what the desk still has to watch."""

    number: str
    lead: str
    helper: str
    vehicle: str
    arrive_at: str
    day: date | None
    window: tuple[str, str] | None
    asked: str
    hazards: tuple[Hazard, ...]
    until_then: str
    our_number: str


def say_back(facts: CallFacts) -> SayBack | None:
    """For a call that became a job; None for one that needed nobody (3 queries)."""
    if facts.job_id is None or facts.ended_as not in ("sent", "booked"):
        return None
    visit = Visit.objects.filter(job_id=facts.job_id).select_related("job").order_by("pk").first()
    if visit is None:
        return None
    stop = Stop.objects.filter(visit=visit).select_related("crew__lead", "crew__helper", "crew__vehicle").first()
    asking = CallOut.objects.filter(visit=visit).select_related("crew").order_by("-pk").first()
    crew = stop.crew if stop else asking.crew if asking else None
    # Nobody is promised by name before they have said that they are leaving.
    coming = asking is not None and asking.state == CallOut.State.ACCEPTED
    zone = ZoneInfo(visit.job.time_zone)

    # Said in the place's own time: a template would turn it into the server's.
    def there(at: datetime) -> str:
        return at.astimezone(zone).strftime("%I:%M %p %Z").lstrip("0")

    window = (visit.window_from, visit.window_until)
    return SayBack(
        visit.job.number,
        crew.lead.name if crew and coming else "",
        crew.helper.name if crew and crew.helper and coming else "",
        crew.vehicle.name if crew else "",
        there(stop.start_at) if stop else "",
        visit.due_on if facts.ended_as == "booked" else None,
        (there(window[0]), there(window[1])) if window[0] and window[1] else None,
        asking.get_state_display() if asking else "",
        to_say(facts.answers.get("hazards")),
        WHILE_WAITING,
        facts.area.phone,
    )
