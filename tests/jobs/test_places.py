"""Places found offline: by ZIP, by town, by coordinates; twin names are asked about, never guessed."""

from types import SimpleNamespace
from typing import Any

import pytest

from jobs import places
from jobs.places import find


@pytest.mark.parametrize(
    ("zip_code", "town", "state", "county", "zone"),
    [
        ("98664", "Vancouver", "WA", "Clark County", "America/Los_Angeles"),
        ("97202", "Portland", "OR", "Multnomah County", "America/Los_Angeles"),
        ("97914", "Ontario", "OR", "Malheur County", "America/Boise"),
        ("97031-1204", "Hood River", "OR", "Hood River County", "America/Los_Angeles"),
    ],
)
def test_a_zip_fixes_everything(zip_code: str, town: str, state: str, county: str, zone: str) -> None:
    place = find(zip_code=zip_code).place

    assert place is not None
    assert (place.town, place.state, place.county, place.time_zone) == (town, state, county, zone)
    assert 42 < place.lat < 49
    assert -124 < place.lon < -116


@pytest.mark.parametrize("town", ["Rainier", "Newport", "dayton", "North Bend"])
def test_a_town_in_both_states_is_asked_about(town: str) -> None:
    found = find(town=town)

    assert found.place is None
    assert [choice.state for choice in found.choices] == ["WA", "OR"]
    assert "Washington or Oregon" in found.ask
    for state in ("WA", "OR"):
        told = find(town=town, state=state).place
        assert told is not None
        assert told.state == state


def test_a_town_of_one_state_needs_no_question() -> None:
    place = find(town="camas").place

    assert place is not None
    assert (place.state, place.county) == ("WA", "Clark County")


@pytest.mark.parametrize(
    ("said", "question"),
    [
        ({"zip_code": "98664", "state": "OR"}, "is in Washington, not in OR"),
        ({"zip_code": "00001"}, "not in the table"),
        ({"town": "Nowhereville"}, "not in the table"),
        ({"town": "Seattle", "state": "OR"}, "is in Washington"),
        ({"state": "WA"}, "Which town in Washington?"),
        ({"point": (45.62, -122.58), "state": "OR"}, "look like Washington"),
    ],
)
def test_what_does_not_fit_is_asked_back(said: dict[str, Any], question: str) -> None:
    found = find(**said)

    assert found.place is None
    assert question in found.ask


def test_nothing_said_asks_nothing() -> None:
    assert find() == places.Found()
    assert find(zip_code="98") == places.Found()


def test_coordinates_are_kept_exactly_and_come_before_a_zip() -> None:
    place = find(zip_code="97202", point=(45.62071, -122.57988)).place

    assert place is not None
    assert (place.lat, place.lon, place.state, place.county) == (45.62071, -122.57988, "WA", "Clark County")


def test_without_a_geocoder_nothing_is_asked_of_the_network(settings: Any) -> None:
    settings.GEOCODER = ""

    assert places.geocode(street="1 Main Street", town="Camas", state="WA", zip_code="") == ()


@pytest.mark.parametrize("point", [(45.62, -122.58), (42.0, -120.5), (48.99, -124.7), (40.3, -117.4), (0.0, 0.0)])
def test_the_nearest_zip_center_is_the_nearest_of_all(point: tuple[float, float]) -> None:
    place = find(point=point).place

    assert place is not None
    nearest = min(places._zips().values(), key=lambda other: places._miles(point, (other.lat, other.lon)))
    assert place.zip_code == nearest.zip_code


def test_a_geocoders_hits_keep_their_own_coordinates(settings: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    settings.GEOCODER = "nominatim"
    hit = SimpleNamespace(latitude=45.5871, longitude=-122.3995, address="1 Main Street, Camas")
    asked: list[str] = []

    def geocode(words: str, exactly_one: bool) -> list[SimpleNamespace]:
        asked.append(words)
        return [hit]

    monkeypatch.setattr(places, "_geocoder", lambda: SimpleNamespace(geocode=geocode))
    (place,) = places.geocode(street="1 Main Street", town="Camas", state="WA", zip_code="98607")

    assert asked == ["1 Main Street, Camas, WA 98607"]
    assert (place.lat, place.lon, place.county, place.source) == (
        45.5871, -122.3995, "Clark County", "1 Main Street, Camas"
    )  # fmt: skip


def test_every_zip_of_the_served_states_has_a_zone_of_the_database() -> None:
    from zoneinfo import available_timezones

    zones = {place.time_zone for place in places._zips().values() if place.state in places.SERVED}

    assert zones == {"America/Los_Angeles", "America/Boise"}
    assert zones <= available_timezones()
