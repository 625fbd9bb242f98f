"""
Who may reach what: every address of the API by role as `who_may.txt` says, every room by the one table of roles.

A new address fails here until it has its row, and until what its name leads to is known to the rule of the areas.
"""

from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver

from jobs import access, areas
from jobs.api_base import MayUse
from jobs.models import Membership
from jobs.refusals import NotAllowed
from tests.config.api_world import ROLES
from tests.config.test_api_breadth import views

TABLE = Path(__file__).with_name("who_may.txt")
# The secret in the address is the right to it.
BY_SECRET = {"api/v1/answer-links/<str:token>", "go/<str:token>", "calendar/<str:secret>.ics"}
OPEN = {"", "sign-in", "sign-out", "<slug:word>-worker.js", "health", "healthz", "livez", "metrics"} | BY_SECRET
# Names in addresses that lead to no row of one area, or that the view holds against the reader itself.
WITHOUT_AREA = {
    "code": "a warehouse of the reader's or a measure",
    "kind": "a word",
    "name": "a word",
    "number": "a unit, which is the company's wherever it is",
    "subject_id": "asked by its kind (dispatch.presence)",
    "token": "a secret",
    "token_id": "held against its user's areas (jobs.tokens)",
    "what": "a word",
}


def rows() -> Iterator[str]:
    """`METHOD address: roles`, as the permission class decides it for a user of that one role."""
    for address, view in views():
        for method in ("GET", "POST", "PUT", "PATCH", "DELETE"):
            if hasattr(view, method.lower()) and address not in BY_SECRET:
                roles = [role for role in ROLES if allowed(view, method, role)]
                yield f"{method} /{address}: {' '.join(roles)}"


def allowed(view: Any, method: str, role: str) -> bool:
    user = SimpleNamespace(_ebbline_roles=frozenset({(role, None)}))
    view.kwargs = {}
    try:
        return MayUse().has_permission(SimpleNamespace(method=method, user=user), view)  # type: ignore[arg-type]
    except NotAllowed:
        return False


def test_every_address_of_the_api_is_open_to_whom_the_table_says() -> None:
    found = sorted(set(rows()))
    told = TABLE.read_text().splitlines()

    assert set(found) - set(told) == set(), "put these rows into who_may.txt, once they are right"
    assert set(told) - set(found) == set(), "these rows are of no address any more"
    assert told == sorted(told)


def test_nobody_reaches_anything(client: Client, db: None) -> None:
    for row in TABLE.read_text().splitlines():
        method, _, address = row.partition(": ")[0].partition(" ")
        answer = client.generic(method, filled(address))
        assert answer.status_code == 401, row
        assert answer["WWW-Authenticate"], row


def test_every_name_in_an_address_is_known_to_the_rule_of_the_areas() -> None:
    names = {name for address, _ in views() for name in named(address)}

    assert {name for name in names if areas.lookup_for(name) is None} == set(WITHOUT_AREA)


@pytest.mark.parametrize("role", [*ROLES, ""])
def test_every_page_is_closed_to_whom_the_table_of_rooms_leaves_out(role: str, client: Client, db: None) -> None:
    if role:
        user = User.objects.create(username=role)
        Membership.objects.create(user=user, role=role, area=None)
        client.force_login(user)
    refused = 0
    for address in pages():
        if role in room_of(address).roles:
            continue
        for method in ("GET", "POST"):
            answer = client.generic(method, filled(f"/{address}"))
            away = answer.status_code == 302 and answer["Location"].startswith("/sign-in")
            assert answer.status_code in ({403, 404, 405} if role else {404, 405}) or away, (method, address)
            refused += answer.status_code == 403 or away
    assert refused > 10


def pages() -> Iterator[str]:
    """Every address outside the API and the master data that is not open to everybody."""

    def walk(resolver: Any, before: str) -> Iterator[str]:
        for part in resolver.url_patterns:
            address = before + str(part.pattern)
            if isinstance(part, URLPattern):
                yield address
            elif isinstance(part, URLResolver) and not address.startswith(("api/", "admin/")):
                yield from walk(part, address)

    yield from (address for address in walk(get_resolver(), "") if address not in OPEN and "api/" not in address)


def room_of(address: str) -> access.Room:
    """The room whose address begins this one; office work at the desk is the managers'."""
    word = address.lstrip("^").partition("/")[0]
    word = "manager" if address.startswith("desk/office") else word
    return next(room for room in access.ROOMS if room.word == word)


def named(address: str) -> Iterator[str]:
    for piece in address.split("<")[1:]:
        yield piece.partition(">")[0].rpartition(":")[2]


def filled(address: str) -> str:
    """The address with something in the place of each name."""
    address = address.replace("^", "").rstrip("$").replace("(?P<kind>call|job)", "call")
    address = address.replace("(?P<subject_id>[0-9]{1,18})", "1")
    while "<" in address:
        before, _, rest = address.partition("<")
        name, _, after = rest.partition(">")
        one = "6f1f64a4-6a05-4c35-8d0c-6b3a0f0e8a10" if name.startswith("uuid:") else "1"
        address = f"{before}{one}{after}"
    return address
