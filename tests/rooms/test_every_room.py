"""What must hold on every page, with a whole company's data behind it, on a desk's screen and on a phone."""

from typing import Any
from uuid import uuid4

import pytest
from django.contrib.auth.models import User
from django.utils import timezone
from playwright.sync_api import Page

from dispatch.imports.company import import_company
from dispatch.imports.sheets import read_folder
from equipment.models import Unit, Warehouse
from jobs.models import Membership
from jobs.people import system_user
from tests.demo_company.tables import FOLDER
from tests.rooms import browser as by
from tests.rooms.conftest import PASSWORD


@pytest.fixture
def company(live_server: Any) -> None:
    import_company(key=uuid4(), actor=system_user(), now=timezone.now(), sheets=read_folder(FOLDER))


def _sign_in_as(role: str, page: Page, address: str) -> None:
    member = Membership.objects.filter(role=role).first()
    user = member.user if member else User.objects.create_user(role)
    Membership.objects.get_or_create(user=user, role=role, area=None)
    user.set_password(PASSWORD)
    user.is_active = True
    user.save()
    by.sign_in(page, address, user.username, PASSWORD)


def _pages_of(role: str) -> list[str]:
    if role == "dispatcher":
        return ["/desk", "/desk/map", "/desk/plans"]
    if role == "crew_lead":
        return ["/crew"]
    warehouse, unit = Warehouse.objects.first(), Unit.objects.first()
    assert warehouse
    assert unit
    rooms = ["", "/returns", "/cleaning", "/left-behind", "/find"]
    return [
        "/warehouse",
        *(f"/warehouse/{warehouse.code}{room}" for room in rooms),
        f"/warehouse/units/{unit.number}",
    ]


@pytest.mark.parametrize("role", ["dispatcher", "warehouse", "crew_lead"])
def test_every_page_holds(role: str, company: None, live_server: Any, any_page: Page) -> None:
    _sign_in_as(role, any_page, live_server.url)

    for path in _pages_of(role):
        answer = any_page.goto(f"{live_server.url}{path}", wait_until="networkidle")

        assert answer, path
        assert answer.status == 200, path
        try:
            by.holds_on_every_page(any_page)
        except AssertionError as error:
            raise AssertionError(f"{path}: {error}") from error
