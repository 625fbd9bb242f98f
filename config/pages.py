"""The door of the house: sends everyone to the first room that their role may enter."""

from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from jobs import access


@login_required
def home(request: HttpRequest) -> HttpResponse:
    """Redirect to the user's own room."""
    rooms = access.rooms_of(request.user)
    if not rooms:
        raise PermissionDenied("Your sign-in has no role yet. Ask a manager to give you one.")
    return redirect(rooms[0].address)
