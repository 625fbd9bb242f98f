"""Whoever acts: the signed-in person of a request, or the program itself."""

from typing import Any

from django.contrib.auth import get_user_model
from django.contrib.auth.models import User

from jobs.access import SYSTEM
from jobs.models.area import Membership
from jobs.refusals import NotAllowed


def signed_in(user: Any) -> User:
    """
    The user of a request, who is somebody.

    :raises NotAllowed: if nobody is signed in.
    """
    if not isinstance(user, User):
        raise NotAllowed("Sign in first.")
    return user


def system_user() -> User:
    """The program's own user, made when first asked for; it cannot sign in."""
    users: Any = get_user_model().objects
    user: User
    user, made = users.get_or_create(username="ebbline", defaults={"first_name": "Ebbline", "is_active": False})
    if made:
        user.set_unusable_password()
        user.save(update_fields=["password"])
    Membership.objects.get_or_create(user=user, role=SYSTEM, area=None)
    return user
