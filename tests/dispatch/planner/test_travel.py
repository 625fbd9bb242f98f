"""The travel estimate against an independent library, and its settings."""

from __future__ import annotations

from random import Random

import pytest
from geopy.distance import great_circle
from hypothesis import given, settings
from hypothesis import strategies as st

from dispatch.planner.problem import Place, Travel
from dispatch.planner.travel import DEFAULT_ESTIMATE, Estimate, SpeedBand, estimate, great_circle_m, travel_of
from tests.dispatch.planner.days import random_day

PLACES = st.lists(
    st.builds(Place, id=st.just("p"), lat=st.floats(-90, 90), lon=st.floats(-180, 180)), min_size=1, max_size=6
)
MILE_M = 1609.344


@settings(max_examples=100, deadline=None)
@given(PLACES)
def test_great_circles_are_those_of_geopy(places: list[Place]) -> None:
    ours = great_circle_m(places)
    for i, a in enumerate(places):
        for k, b in enumerate(places):
            theirs = great_circle((a.lat, a.lon), (b.lat, b.lon)).m
            # geopy's radius is the same IUGG mean radius, given to the metre.
            assert ours[i, k] == pytest.approx(theirs, rel=1e-6, abs=0.3)


@settings(max_examples=50, deadline=None)
@given(PLACES)
def test_the_estimate_is_symmetric_and_never_shorter_than_the_great_circle(places: list[Place]) -> None:
    travel, straight_m = estimate(places), great_circle_m(places)
    for i in range(len(places)):
        assert travel.seconds[i][i] == travel.meters[i][i] == 0
        for k in range(len(places)):
            assert travel.meters[i][k] == travel.meters[k][i]
            assert travel.meters[i][k] >= straight_m[i, k]


def test_each_stretch_is_driven_at_the_speed_of_its_band() -> None:
    settings_ = Estimate(1.0, (SpeedBand(2, 20), SpeedBand(None, 60)), "made up for this test")
    degrees = 5 * MILE_M / 6_371_008.8 * 180 / 3.141592653589793
    travel = estimate([Place(id="a", lat=0, lon=0), Place(id="b", lat=0, lon=degrees)], settings_)
    # Two miles at 20 mph take 360 s, three at 60 mph 180 s.
    assert travel.seconds[0][1] in {540, 541}
    assert travel.meters[0][1] == pytest.approx(5 * MILE_M, abs=1)


def test_longer_drives_are_never_quicker() -> None:
    places = [Place(id=str(i), lat=45, lon=-122 - i / 50) for i in range(60)]
    row = estimate(places).seconds[0]
    assert list(row) == sorted(row)


def test_the_settings_name_their_source() -> None:
    assert "Ballou" in DEFAULT_ESTIMATE.source
    with pytest.raises(ValueError, match="never shorter"):
        Estimate(0.9, DEFAULT_ESTIMATE.bands, "")
    with pytest.raises(ValueError, match="without end"):
        Estimate(1.3, (SpeedBand(3, 20),), "")


def test_given_travel_is_used_as_it_is() -> None:
    problem = random_day(Random(1), 3, 1)
    n = len(problem.places)
    given_ = Travel(seconds=((7,) * n,) * n, meters=((9,) * n,) * n)
    assert travel_of(problem.model_copy(update={"travel": given_})) is given_
