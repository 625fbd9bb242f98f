"""The frame shows the rooms that somebody may enter, and in which of them they are."""

import pytest
from django.contrib.auth.models import AnonymousUser, User
from django.test import RequestFactory

from config.frame import frame
from jobs.models import Membership


@pytest.fixture
def manager(db: None) -> User:
    user = User.objects.create_user("maya")
    Membership.objects.create(user=user, role="manager")
    return user


def test_nobody_sees_no_room(rf: RequestFactory) -> None:
    request = rf.get("/")
    request.user = AnonymousUser()

    assert frame(request)["rooms"] == ()


@pytest.mark.parametrize(
    ("path", "here"),
    [
        ("/desk", "desk"),
        ("/desk/calls/4", "desk"),
        ("/desk/map", "map"),
        ("/deskchair", None),
        ("/warehouse", "warehouse"),
        ("/", None),
    ],
)
def test_innermost_room_is_marked(path: str, here: str | None, rf: RequestFactory, manager: User) -> None:
    request = rf.get(path)
    request.user = manager

    context = frame(request)

    assert (context["room_here"].word if context["room_here"] else None) == here
