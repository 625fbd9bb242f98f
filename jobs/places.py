"""
Where a place is: town, state, county, time zone and a coarse point, offline by ZIP or town name.

The table is the `zipcodes` package (places and coordinates from GeoNames, CC BY 4.0): centers of ZIP areas, good to
a few miles. An address's own coordinates, typed or from a geocoder, come before it.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from math import asin, cos, radians, sin, sqrt
from typing import Any

from django.conf import settings

# The states that are asked about first when a town's name stands alone.
SERVED = ("WA", "OR")
STATE_NAMES: Mapping[str, str] = {
    "WA": "Washington",
    "OR": "Oregon",
    "ID": "Idaho",
    "CA": "California",
    "NV": "Nevada",
    "MT": "Montana",
}
GEOCODER_TIMEOUT_S = 4
EARTH_RADIUS_MILES = 3958.8
MILES_PER_DEG = radians(EARTH_RADIUS_MILES)
# Degrees of latitude to either side within which the nearest ZIP center is looked for first.
BAND_DEG = 0.3


@dataclass(frozen=True)
class Place:
    """A place as exactly as it is known; `source` says from what."""

    town: str
    state: str
    zip_code: str
    county: str
    time_zone: str
    lat: float
    lon: float
    source: str

    @property
    def state_name(self) -> str:
        return STATE_NAMES.get(self.state, self.state)


@dataclass(frozen=True)
class Found:
    """What is known of where a caller is. With several `choices` it must be asked which; `ask` is the question."""

    place: Place | None = None
    choices: tuple[Place, ...] = ()
    ask: str = ""


def find(*, zip_code: str = "", town: str = "", state: str = "", point: tuple[float, float] | None = None) -> Found:
    """
    The place that these answers fix, or the places between which it must be asked.

    `point` (latitude, longitude in degrees) comes before ZIP, ZIP before town.
    """
    if point is not None:
        return _with_typed(_nearest(point), town, state)
    if len(zip_code) >= 5:
        return _by_zip(zip_code[:5], state)
    if town:
        return _by_town(town, state)
    return Found(ask=f"Which town in {STATE_NAMES[state]}?" if state in STATE_NAMES else "")


def geocode(*, street: str, town: str, state: str, zip_code: str) -> tuple[Place, ...]:
    """
    Addresses that the configured geocoder finds; none when none is configured. Never inside a transaction: it waits
    for another machine, at most `GEOCODER_TIMEOUT_S` seconds.

    :raises geopy.exc.GeocoderServiceError: if the geocoder does not answer.
    """
    if not settings.GEOCODER:
        return ()
    words = ", ".join(part for part in (street, town, f"{state} {zip_code}".strip()) if part)
    results: Any = _geocoder().geocode(words, exactly_one=False) or ()
    return tuple(
        replace(_nearest((hit.latitude, hit.longitude)), lat=hit.latitude, lon=hit.longitude, source=str(hit.address))
        for hit in results[:5]
    )


def warm() -> None:
    """Load the table before the first caller waits for it."""
    _zips()
    _towns()


@cache
def _geocoder() -> Any:
    from geopy.geocoders import get_geocoder_for_service

    more = {"domain": settings.GEOCODER_DOMAIN} if settings.GEOCODER_DOMAIN else {}
    kind = get_geocoder_for_service(settings.GEOCODER)
    return kind(timeout=GEOCODER_TIMEOUT_S, user_agent="ebbline", **more)


@cache
def _table() -> tuple[dict[str, Any], ...]:
    # Loading takes up to a second and some memory, so it waits for the first question.
    import zipcodes

    return tuple(row for row in zipcodes.list_all() if row["active"] and row["lat"] and row["state"] in STATE_NAMES)


@cache
def _zips() -> dict[str, Place]:
    return {row["zip_code"]: _place(row, f"center of ZIP {row['zip_code']}") for row in _table()}


@cache
def _towns() -> dict[str, tuple[Place, ...]]:
    """By town name: one place for each state, the first standard ZIP standing for the town."""
    found: dict[str, dict[str, Place]] = {}
    for row in sorted(_table(), key=lambda row: (row["zip_code_type"] != "STANDARD", row["zip_code"])):
        for name in (row["city"], *row["acceptable_cities"]):
            place = replace(_place(row, f"center of {name}"), town=name, zip_code="")
            found.setdefault(name.casefold(), {}).setdefault(row["state"], place)
    return {name: tuple(by_state.values()) for name, by_state in found.items()}


def _place(row: dict[str, Any], source: str) -> Place:
    lat, lon = float(row["lat"]), float(row["long"])
    return Place(row["city"], row["state"], row["zip_code"], row["county"], row["timezone"], lat, lon, source)


def _by_zip(zip_code: str, state: str) -> Found:
    place = _zips().get(zip_code)
    if place is None:
        return Found(ask=f"ZIP {zip_code} is not in the table. Ask for the town and the state.")
    if state and state != place.state:
        return Found(
            choices=(place,), ask=f"ZIP {zip_code} is in {place.state_name}, not in {state}. Which one is right?"
        )
    return Found(place)


def _by_town(town: str, state: str) -> Found:
    hits = _towns().get(town.casefold(), ())
    if state:
        here = tuple(place for place in hits if place.state == state)
        if here:
            return Found(here[0])
        where = " and ".join(place.state_name for place in hits)
        ask = f"{town} is in {where}. Is the state right?" if hits else f"{town} is not in the table. Ask for the ZIP."
        return Found(choices=hits, ask=ask)
    near = tuple(
        sorted((place for place in hits if place.state in SERVED), key=lambda place: place.state, reverse=True)
    )
    if len(near) == 1:
        return Found(near[0])
    if near:
        return Found(choices=near, ask=f"There is a {near[0].town} in both states. Which one: Washington or Oregon?")
    if hits:
        return Found(choices=hits, ask=f"{town} is in {hits[0].state_name}. Is that where the water is?")
    return Found(ask=f"{town} is not in the table. Ask for the ZIP, or for the nearest larger town.")


def _with_typed(place: Place, town: str, state: str) -> Found:
    """A point has the county of the nearest ZIP center: near a state line what was said may differ, and is asked."""
    if state and state != place.state:
        return Found(
            choices=(place,), ask=f"The coordinates look like {place.state_name}, not {state}. Which one is right?"
        )
    return Found(replace(place, town=town or place.town))


@lru_cache(maxsize=1000)
def _nearest(point: tuple[float, float]) -> Place:
    def miles(place: Place) -> float:
        return _miles(point, (place.lat, place.lon))

    # Farther in latitude alone than the best of the band is farther in all: mostly the band holds the nearest.
    band = [place for place in _zips().values() if abs(place.lat - point[0]) <= BAND_DEG]
    nearest = min(band, key=miles, default=None)
    if nearest is None or miles(nearest) > BAND_DEG * MILES_PER_DEG:
        nearest = min(_zips().values(), key=miles)
    return replace(nearest, lat=point[0], lon=point[1], source=f"coordinates, nearest to ZIP {nearest.zip_code}")


def _miles(one: tuple[float, float], other: tuple[float, float]) -> float:
    """Great-circle distance in miles (haversine, mean earth radius)."""
    lat1, lon1, lat2, lon2 = map(radians, (*one, *other))
    half = sin((lat2 - lat1) / 2) ** 2 + cos(lat1) * cos(lat2) * sin((lon2 - lon1) / 2) ** 2
    return 2 * EARTH_RADIUS_MILES * asin(sqrt(half))
