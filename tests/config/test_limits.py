"""What is larger than anything that can be meant, or cannot be kept, reaches no view; every list comes in pages."""

import pytest
from django.contrib.auth.models import User
from django.test import Client
from rest_framework.response import Response
from rest_framework.test import APIRequestFactory
from rest_framework.views import APIView

from jobs import access
from jobs.api_paging import paged
from jobs.models import Area, Membership
from jobs.refusals import Unusable
from jobs.sent import whole


@pytest.fixture
def manager(db: None, client: Client) -> Client:
    user = User.objects.create(username="limits")
    Membership.objects.create(user=user, role=access.MANAGER, area=None)
    Area.objects.create(code="lower-columbia", name="Lower Columbia")
    client.force_login(user)
    return client


@pytest.mark.parametrize("address", ["/api/v1/calls/" + "9" * 30, "/desk/calls/" + "9" * 30, "/warehouse/units/%00"])
def test_an_address_that_no_database_bears_leads_nowhere(manager: Client, address: str) -> None:
    assert manager.get(address).status_code == 404


def test_an_address_that_is_not_there_is_a_problem_for_a_program_and_a_page_for_a_person(manager: Client) -> None:
    problem = manager.get("/api/v1/nothing/here")

    assert (problem.status_code, problem["Content-Type"]) == (404, "application/problem+json")
    assert problem.json()["code"] == "not_found"
    assert "<html" in manager.get("/nothing/here").text


def test_nul_in_a_form_or_a_question_is_named(manager: Client) -> None:
    typed = manager.post("/desk/calls/new", {"callback_number": "360\x00555"})
    asked = manager.get("/api/v1/units?text=%00")

    assert typed.status_code == 400
    assert "callback_number holds the character NUL" in typed.text
    assert asked.json()["code"] == "not_text"


@pytest.mark.parametrize("address", ["/api/v1/calls", "/desk/calls/new", "/crew/stops/1/photos"])
def test_fifty_megabytes_are_refused_before_they_are_read(manager: Client, address: str) -> None:
    answer = manager.post(address, b"", content_type="application/json", headers={"Content-Length": "52428800"})

    assert answer.status_code == 413
    assert "26 MB" in answer.text


def _page(question: str, rows: int = 10) -> Response:
    request = APIView().initialize_request(APIRequestFactory().get(f"/api/v1/alarms?{question}"))
    return paged(request, Response(list(range(rows))))


@pytest.mark.parametrize(
    ("question", "part", "links"),
    [
        ("", range(10), ()),
        ("limit=4", range(4), ("offset=4",)),
        ("limit=4&offset=4", range(4, 8), ("offset=8", "offset=0")),
        ("limit=4&offset=8", range(8, 10), ("offset=4",)),
        ("offset=40", range(0), ("offset=0",)),
    ],
)
def test_a_list_says_how_many_there_are_and_where_the_next_are(
    question: str, part: range, links: tuple[str, ...]
) -> None:
    answer = _page(question)

    assert answer.data == list(part)
    assert answer["Total-Count"] == "10"
    assert answer.headers.get("Link", "").count("rel=") == len(links)
    assert all(link in answer["Link"] for link in links)


def test_a_page_that_cannot_be_meant_is_a_problem(manager: Client) -> None:
    answer = manager.get("/api/v1/areas?limit=many")

    assert (answer.status_code, answer.json()["code"]) == (422, "unusable_value")
    assert manager.get("/api/v1/areas?limit=1")["Total-Count"] == "1"


@pytest.mark.parametrize("question", ["limit=0", "limit=1001", "limit=-1", "limit=x", "offset=²", "offset=" + "9" * 40])
def test_a_page_that_cannot_be_meant_is_refused(question: str) -> None:
    with pytest.raises(Unusable, match="whole number"):
        _page(question)


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("7", 7),
        (" 7 ", 7),
        ("٣", 3),
        ("", None),
        (None, None),
        ("²", None),
        ("-1", None),
        ("9" * 19, None),
        ("7x", None),
    ],
)
def test_a_whole_number_is_one_or_it_is_none(text: str | None, number: int | None) -> None:
    assert whole(text) == number
