"""In which area crews, plans and call-outs lie, and where else a crew works that helps out."""

from datetime import timedelta
from typing import Any

from django.db.models import Q
from django.utils import timezone

from dispatch.models import CallOut, Crew, HelpRequest, Person, Plan, Shift
from jobs import areas

# What a crew did is written down on the way home, too.
AFTER = timedelta(hours=12)


def register() -> None:
    """Tell the rule where each id leads."""
    areas.register("person_id", areas.of(Person, "area_id"))
    areas.register("crew_id", areas.of(Crew, "area_id"))
    areas.register("person_ids", areas.of(Person, "area_id"))
    areas.register("shift_id", areas.of(Shift, "person__area_id"))
    areas.register("with_shift_id", areas.of(Shift, "person__area_id"))
    areas.register("plan_id", areas.of(Plan, "area_id"))
    areas.register("call_out_id", areas.of(CallOut, "area_id"))
    # Who was asked answers; who asked takes back.
    areas.register("help_id", areas.of(HelpRequest, "of_area_id"))
    areas.register("own_help_id", areas.of(HelpRequest, "area_id"))
    areas.register_beside(helped)


def helped(user: Any) -> frozenset[int]:
    """The areas of the crews that the user belongs to today: a crew lent to another area is of that one."""
    now = timezone.now()
    mine = Q(lead__user=user) | Q(helper__user=user)
    found = Crew.objects.filter(mine, at_latest__gt=now - AFTER, starts_at__lt=now + AFTER)
    return frozenset(found.values_list("area_id", flat=True))
