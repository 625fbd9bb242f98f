"""What a person and a program are answered when something is refused or fails."""

from typing import Any

import pytest
from django.test import Client

pytestmark = [pytest.mark.django_db, pytest.mark.urls("tests.config.refusing_urls")]


def test_refusal_in_the_api_is_a_problem(client: Client) -> None:
    answer = client.get("/api")

    assert answer.status_code == 409
    assert answer["Content-Type"] == "application/problem+json"
    assert answer.json() == {
        "type": "urn:ebbline:changed_meanwhile",
        "title": "changed meanwhile",
        "status": 409,
        "detail": "The count is 4 by now. Look and send it again.",
        "code": "changed_meanwhile",
        "where": "count",
        "now": 4,
    }


def test_wrong_field_in_the_api_is_named(client: Client) -> None:
    answer = client.post("/api", {"count": -1}, content_type="application/json")

    assert answer.status_code == 400
    assert answer["Content-Type"] == "application/problem+json"
    assert answer.json()["code"] == "invalid"
    assert list(answer.json()["errors"]) == ["count"]


def test_refusal_that_no_view_caught_is_a_page(client: Client) -> None:
    answer = client.get("/refuse")

    assert answer.status_code == 409
    assert "The &lt;count&gt; is 4 by now. Look and send it again." in answer.text
    assert "<title>Not done" in answer.text


def test_refusal_of_a_part_of_a_page_is_a_fragment(client: Client) -> None:
    answer = client.get("/refuse", headers={"HX-Request": "true"})

    assert answer.status_code == 409
    assert 'role="alert"' in answer.text
    assert "<html" not in answer.text


def test_forbidden_page_says_who_may(client: Client) -> None:
    answer = client.get("/forbid")

    assert answer.status_code == 403
    assert "Only a manager opens this page." in answer.text


def test_failure_is_a_page_that_says_what_to_do(client: Client) -> None:
    client.raise_request_exception = False

    answer = client.get("/fail")

    assert answer.status_code == 500
    assert "use the paper sheet" in answer.text
    told = client.get("/api/fail")
    assert (told.status_code, told["Content-Type"], told.json()["code"]) == (500, "application/problem+json", "failed")


def test_a_database_that_is_away_asks_for_the_same_once_more(client: Client, django_assert_num_queries: Any) -> None:
    client.raise_request_exception = False

    with django_assert_num_queries(0):
        page, told = client.get("/away"), client.get("/api/away")

    assert (page.status_code, page["Retry-After"]) == (503, "5")
    assert "cannot reach its records right now" in page.text
    assert (told.status_code, told.json()["code"], told["Retry-After"]) == (503, "database_away", "5")
    assert "with the same key" in told.json()["detail"]


def test_form_from_an_old_page_says_so() -> None:
    answer = Client(enforce_csrf_checks=True).post("/sign-in", {"username": "x", "password": "y"})

    assert answer.status_code == 403
    assert "old page" in answer.text
