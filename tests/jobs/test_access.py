"""The one table of roles, rooms and verbs."""

from collections.abc import Callable

import pytest
from django.contrib.auth.models import User

from jobs import access
from jobs.people import system_user
from jobs.refusals import NotAllowed

Make = Callable[[str], User]

# Where a phone is, is told and taken back by whoever carries it.
OF_ONES_OWN_PHONE = {"tell_position", "forget_position"}


@pytest.mark.parametrize("verb", access.VERBS)
def test_every_verb_names_known_roles_and_the_manager_holds_it(verb: str) -> None:
    roles = access.VERBS[verb]

    assert roles <= set(access.ROLES)
    if verb not in OF_ONES_OWN_PHONE:
        assert not roles or access.MANAGER in roles, "a manager can do what their people can"


@pytest.mark.parametrize(
    ("role", "rooms"),
    [
        (access.DISPATCHER, {"desk", "map"}),
        (access.WAREHOUSE, {"warehouse"}),
        (access.CREW_LEAD, {"crew"}),
        (access.MANAGER, {"desk", "map", "warehouse", "manager", "admin"}),
    ],
)
def test_each_role_has_its_own_rooms(person: Make, role: str, rooms: set[str]) -> None:
    user = person(role)

    assert {room.word for room in access.rooms_of(user)} == rooms
    for room in access.ROOMS:
        if room.word in rooms:
            access.require_room(user, room.word)
        else:
            with pytest.raises(NotAllowed, match="open to"):
                access.require_room(user, room.word)


@pytest.mark.parametrize(
    ("role", "verb", "allowed"),
    [
        (access.DISPATCHER, "send", True),
        (access.DISPATCHER, "override", False),
        (access.DISPATCHER, "record_readings", False),
        (access.WAREHOUSE, "scan_in", True),
        (access.WAREHOUSE, "take_call", False),
        (access.CREW_LEAD, "finish_stop", True),
        (access.CREW_LEAD, "publish_plan", False),
        (access.MANAGER, "override", True),
        (access.MANAGER, "expire_hold", False),
    ],
)
def test_verbs_are_held_by_role(person: Make, role: str, verb: str, allowed: bool) -> None:
    user = person(role)

    assert access.may(user, verb) == allowed
    if not allowed:
        with pytest.raises(NotAllowed) as refused:
            access.require(user, verb)
        assert refused.value.data["verb"] == verb


@pytest.mark.django_db
def test_nobody_is_allowed_anything_without_a_role() -> None:
    user = User.objects.create(username="nobody")

    assert access.rooms_of(user) == ()
    assert not any(access.may(user, verb) for verb in access.VERBS)


@pytest.mark.django_db
def test_the_program_itself_holds_every_verb_but_cannot_sign_in() -> None:
    program = system_user()

    assert system_user() == program
    assert all(access.may(program, verb) for verb in access.VERBS)
    assert not program.has_usable_password()
    assert not program.is_active


@pytest.mark.django_db
def test_a_superuser_is_a_manager() -> None:
    user = User.objects.create(username="first", is_superuser=True)

    assert access.MANAGER in access.roles_of(user)
