"""An empty company's first manager."""

from io import StringIO

import pytest
from django.contrib.auth.models import User
from django.core.management import CommandError, call_command
from django.test import Client

from jobs.access import MANAGER, roles_of

pytestmark = pytest.mark.django_db


def make(name: str, password: str, monkeypatch: pytest.MonkeyPatch) -> str:
    monkeypatch.setattr("sys.stdin", StringIO(password + "\n"))
    said = StringIO()
    call_command("first_sign_in", name, "--stdin", stdout=said)
    return said.getvalue()


def test_the_first_manager_can_sign_in_and_reach_the_master_data(monkeypatch: pytest.MonkeyPatch) -> None:
    assert "manager" in make("tilda", "quiet-river-stone-9", monkeypatch)
    assert MANAGER in roles_of(User.objects.get(username="tilda"))
    client = Client()
    client.force_login(User.objects.get(username="tilda"), backend="django.contrib.auth.backends.ModelBackend")
    assert client.get("/admin/dispatch/person/").status_code == 200
    assert client.get("/admin/equipment/vehicle/").status_code == 200


def test_a_weak_password_and_a_taken_name_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(CommandError, match="too short"):
        make("tilda", "abc", monkeypatch)
    make("tilda", "quiet-river-stone-9", monkeypatch)
    with pytest.raises(CommandError, match="already a sign-in"):
        make("tilda", "quiet-river-stone-9", monkeypatch)
