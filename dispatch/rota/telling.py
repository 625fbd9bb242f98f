"""Everybody whose shifts, crew or place in the call-out order changed hears so, by the way that reaches them."""

from collections.abc import Sequence
from datetime import datetime
from uuid import UUID

from dispatch import notify
from dispatch.models import Notice, Person
from jobs.models import Area
from jobs.use_case import key_for

MOST = Notice._meta.get_field("text").max_length or 480


def tell(people: Sequence[Person], did: Sequence[str], *, area: Area, key: UUID, now: datetime) -> None:
    """Write each person what names them of what was done; in the caller's transaction."""
    for person in dict.fromkeys(people):
        mine = [line for line in did if person.name in line]
        if mine:
            text = f"The rota was changed. {' '.join(mine)}"
            text = text if len(text) <= MOST else f"{text[: MOST - 22]}... Ask the desk."
            notify.write(key=key_for(key, f"tell {person.pk}"), area_id=area.pk, person=person, text=text, now=now)
