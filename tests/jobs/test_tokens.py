"""Tokens: told once, kept as a digest, limited to verbs and areas, ended by time and by hand."""

from collections.abc import Callable
from datetime import timedelta
from io import StringIO
from typing import Any
from uuid import uuid4

import pytest
import time_machine
from django.contrib.auth.models import User
from django.core.management import CommandError, call_command
from django.test import Client

from jobs import access, tokens
from jobs.models import ApiToken, Area, Membership, UseCaseCall
from jobs.refusals import NotThere, Unusable
from tests.jobs.conftest import NIGHT


@pytest.fixture(autouse=True)
def _tonight() -> Any:
    with time_machine.travel(NIGHT, tick=False):
        yield


def _make(actor: User, **more: Any) -> str:
    key = uuid4()
    tokens.make_token(key=key, actor=actor, now=NIGHT, **{"name": "phone line", "days": 30, **more})
    return tokens.secret_of(key)


def _ask(secret: str, address: str = "/api/v1/calls", scheme: str = "Token", **body: Any) -> Any:
    head = {"Authorization": f"{scheme} {secret}", "Idempotency-Key": str(uuid4())}
    if body:
        return Client().post(address, body, content_type="application/json", headers=head)
    return Client().get(address, headers=head)


def test_a_token_does_what_it_was_made_for_and_no_more(person: Callable[[str], User], area: Area) -> None:
    manager, desk = person(access.MANAGER), person(access.DISPATCHER)
    other = Area.objects.create(code="up-river", name="Up River")
    Membership.objects.create(user=desk, area=other, role=access.DISPATCHER)
    Membership.objects.create(user=manager, area=other, role=access.MANAGER)
    reader = _make(manager, user_name=desk.username)
    writer = _make(manager, user_name=desk.username, reads=False, verbs=("take_call",), area_codes=(area.code,))

    assert (_ask(reader).status_code, _ask(reader, scheme="Bearer").status_code) == (200, 200)
    refused = _ask(reader, area_id=area.pk)
    assert (refused.status_code, refused.json()["code"]) == (403, "not_allowed")
    assert _ask(writer, area_id=area.pk).status_code == 201
    assert _ask(writer, area_id=other.pk).json()["code"] == "other_area"
    assert _ask(writer).status_code == 403
    assert _ask(writer, "/api/v1/tokens", user_name=desk.username, name="more", days=9).status_code == 403
    assert _ask("ebb_nothing").status_code == 401
    assert ApiToken.objects.get(digest=tokens._digest(reader)).last_used_at == NIGHT
    told = str(list(ApiToken.objects.values())) + str(list(UseCaseCall.objects.values()))
    assert reader not in told
    assert reader[10:] not in told


def test_a_token_ends_by_time_by_hand_and_with_its_user(person: Callable[[str], User]) -> None:
    manager, desk = person(access.MANAGER), person(access.DISPATCHER)
    secret, second = _make(manager, user_name=desk.username, days=2), _make(manager, user_name=desk.username)
    with time_machine.travel(NIGHT + timedelta(days=2), tick=False):
        assert (_ask(secret).status_code, _ask(second).status_code) == (401, 200)
    client = Client()
    client.force_login(manager)
    row = ApiToken.objects.get(digest=tokens._digest(second))
    page = client.post("/desk/office", {"key": str(uuid4()), "revoke": row.pk})
    assert (page.status_code, _ask(second).status_code) == (200, 401)
    third = _make(manager, user_name=desk.username)
    User.objects.filter(pk=desk.pk).update(is_active=False)
    assert _ask(third).status_code == 401
    assert [line.state for line in tokens.tokens(manager, now=NIGHT)] == ["in use", "revoked", "in use"]


def test_the_page_and_the_address_tell_it_once(person: Callable[[str], User]) -> None:
    manager, desk = person(access.MANAGER), person(access.DISPATCHER)
    client = Client()
    client.force_login(manager)
    sent = {"key": str(uuid4()), "user_name": desk.username, "name": "wall board", "days": 30, "reads": "on"}
    page = client.post("/desk/office", sent)
    (secret,) = {
        word
        for word in page.text.replace("<", " ").replace(">", " ").split()
        if len(word) > 40 and word.startswith("ebb_")
    }
    assert _ask(secret).status_code == 200
    assert secret not in client.get("/desk/office").text
    body = {"user_name": desk.username, "name": "map", "days": 30}
    first, again = (
        client.post(
            "/api/v1/tokens",
            body,
            content_type="application/json",
            headers={"Idempotency-Key": sent["key"][:-4] + "aaaa"},
        )
        for _ in range(2)
    )
    assert (first.status_code, first.json()) == (201, again.json())
    assert _ask(first.json()["token"]).status_code == 200
    assert first.json()["token"] not in client.get("/api/v1/tokens").text
    client.force_login(desk)
    assert client.get("/desk/office").status_code == 403
    assert client.get("/api/v1/tokens").status_code == 403


def test_what_no_token_can_be_made_for(person: Callable[[str], User]) -> None:
    manager, desk = person(access.MANAGER), person(access.DISPATCHER)
    boss = User.objects.create_superuser("boss")
    for more, refusal, said in (
        ({"user_name": "nobody"}, NotThere, "Nobody named"),
        ({"user_name": boss.username}, NotThere, "Nobody named"),
        ({"verbs": ("override",)}, Unusable, "may not do this"),
        ({"verbs": ("make_token",)}, Unusable, "No token may"),
        ({"verbs": ("fly",)}, Unusable, "no verb"),
        ({"days": 0}, Unusable, "1 to 366"),
        ({"reads": False}, Unusable, "could do nothing"),
        ({"area_codes": ("moon",)}, Unusable, "no area"),
    ):
        with pytest.raises(refusal, match=said):
            _make(manager, **{"user_name": desk.username, **more})


def test_the_command_makes_lists_and_revokes(person: Callable[[str], User]) -> None:
    desk, out = person(access.DISPATCHER), StringIO()
    call_command(
        "api_tokens", "make", desk.username, name="phone line", verb=["take_call"], stdout=out, stderr=StringIO()
    )
    secret = out.getvalue().strip()
    assert _ask(secret).status_code == 200
    listed = StringIO()
    call_command("api_tokens", "list", stdout=listed)
    assert f"{secret[:10]}  in use" in listed.getvalue()
    assert "reads, take_call" in listed.getvalue()
    call_command("api_tokens", "revoke", secret[:10], stdout=StringIO())
    assert _ask(secret).status_code == 401
    with pytest.raises(CommandError, match="already"):
        call_command("api_tokens", "revoke", secret[:10], stdout=StringIO())
