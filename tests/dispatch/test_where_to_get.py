"""The desk's question, where can I get it: by page and by API, the same answer."""

from typing import Any

import pytest
from django.test import Client

from dispatch.desk import source_views
from tests.equipment import cast as casting
from tests.equipment.cast import Cast


@pytest.fixture
def cast(db: None) -> Cast:
    made = casting.make()
    made.units("0001", "0002")
    made.units("0003", at=made.south)
    return made


@pytest.fixture
def desk(cast: Cast, client: Client) -> Client:
    client.force_login(cast.dispatcher)
    return client


def test_the_nearest_is_said_first_with_minutes_by_the_planners_estimate(cast: Cast, desk: Client) -> None:
    job = cast.job(stage="drying", lat=45.44, lon=-122.6)
    answer = desk.get("/api/v1/areas/river/where-can-i-get", {"need": ["air_mover:3"], "job": job.number})

    assert answer.status_code == 200
    found = answer.json()
    assert (found["job_number"], found["drive_times_from"]) == (job.number, "estimate")
    assert [(row["warehouse_id"], row["free"], row["still_short"]) for row in found["sources"]] == [
        (cast.south.pk, 1, 2),
        (cast.north.pk, 2, 0),
    ]
    assert 0 < found["sources"][0]["drive_min"] < found["sources"][1]["drive_min"] < 90


def test_the_page_answers_in_place(cast: Cast, desk: Client, django_assert_max_num_queries: Any) -> None:
    with django_assert_max_num_queries(18):
        page = desk.get("/desk/where-can-i-get", {"zip": "98661", "what": ["AM", ""], "count": ["2", ""]})

    text = page.content.decode()
    assert page.status_code == 200
    assert "Vancouver, WA 98661" in text
    assert text.index("North warehouse") < text.index("South warehouse")
    assert 'value="2"' in text


REFUSED = [
    ({"what": ["AM"], "count": ["many"], "zip": "98661"}, 422, "no number of units"),
    ({"what": ["AM"], "count": ["2"]}, 422, "Name the job"),
    ({"what": ["AM"], "count": ["2"], "job": "J-9"}, 404, "no job &#x27;J-9&#x27;"),
    ({"what": ["AM"], "count": ["2"], "zip": "00000"}, 404, "no ZIP code"),
    ({"what": ["kite"], "count": ["2"], "zip": "98661"}, 404, "no equipment &#x27;kite&#x27;"),
]


@pytest.mark.parametrize(("typed", "status", "says"), REFUSED)
def test_what_cannot_be_meant_is_refused_and_stays_typed(
    desk: Client, typed: dict[str, Any], status: int, says: str
) -> None:
    page = desk.get("/desk/where-can-i-get", typed)

    assert (page.status_code, says in page.content.decode()) == (status, True)
    assert f'value="{typed["count"][0]}"' in page.content.decode()


@pytest.mark.parametrize("need", [[], ["lgr"], ["lgr:0"], ["lgr:two"]])
def test_the_api_refuses_a_need_that_says_nothing(desk: Client, need: list[str]) -> None:
    assert desk.get("/api/v1/areas/river/where-can-i-get", {"need": need, "zip": "98661"}).status_code == 400


def test_only_the_desk_sees_the_page(cast: Cast, client: Client) -> None:
    client.force_login(cast.lead)
    assert client.get("/desk/where-can-i-get").status_code == 403
    assert source_views.LINES == 4
