"""What the shared frame needs on every page: who is signed in and which rooms they may enter."""

from typing import Any

from django.conf import settings
from django.http import HttpRequest
from django.urls import reverse
from django.utils import timezone

from config.workers import OFFLINE_ROOMS
from jobs import access


def frame(request: HttpRequest) -> dict[str, Any]:
    """Context for base.html; the rooms come from the one table in `jobs.access`."""
    user = getattr(request, "user", None)
    if user is None or not user.is_authenticated:
        return {"rooms": (), **_marks()}
    rooms = access.rooms_of(user)
    around = [room for room in rooms if f"{request.path}/".startswith(f"{room.address.rstrip('/')}/")]
    here = max(around, key=lambda room: len(room.address), default=None)
    worker = reverse("room_worker", args=[here.word]) if here is not None and here.word in OFFLINE_ROOMS else ""
    return {"rooms": rooms, "room_here": here, "room_worker": worker, **_marks()}


def _marks() -> dict[str, Any]:
    """What every page says of an installation that is not a real one; `night` is the time of a shown night."""
    return {"practice": settings.PRACTICE, "night": timezone.now() if settings.NIGHT else None}
