"""Which units are counted today: our own points, so the properties are what must hold whatever the points are."""

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from equipment.stock.count_risk import AT_MOST, EXPENSIVE, Facts, choose, risk

some_facts = st.builds(
    Facts,
    unit_id=st.integers(1, 10_000),
    number=st.integers(1, 9_999).map("{:04}".format),
    kind=st.sampled_from(["air_mover", *sorted(EXPENSIVE)]),
    days_unseen=st.integers(0, 400),
    times_left=st.integers(0, 9),
    times_missing=st.integers(0, 9),
    open_differences=st.integers(0, 9),
    rented=st.booleans(),
)


@given(some_facts)
def test_points_and_reasons_go_together(facts: Facts) -> None:
    found = risk(facts)
    assert bool(found.points) == bool(found.reasons)
    assert found.points <= 30 + 18 + 20 + 24 + 8 + 5


@given(some_facts, st.sampled_from(["days_unseen", "times_left", "times_missing", "open_differences"]))
def test_more_of_anything_never_makes_a_unit_less_of_a_risk(facts: Facts, what: str) -> None:
    worse = replace(facts, **{what: getattr(facts, what) + 1})
    assert risk(worse).points >= risk(facts).points


@given(st.lists(some_facts, max_size=60))
def test_nobody_who_is_left_out_is_a_greater_risk(units: list[Facts]) -> None:
    chosen = choose(units)
    assert len(chosen) <= AT_MOST
    everyone = sorted((risk(unit).points for unit in units), reverse=True)
    assert [one.points for one in chosen] == [points for points in everyone if points][:AT_MOST]


def test_the_reasons_are_plain_words_the_weightiest_first() -> None:
    found = risk(Facts(7, "0007", "lgr", 9, times_left=2, times_missing=1, open_differences=1, rented=True))
    assert found.points == 9 + 12 + 10 + 12 + 8 + 5
    assert found.reasons == (
        "left at a job twice in a year",
        "1 difference not explained",
        "not found once in a year",
        "not seen for 9 days",
        "rented: every day costs",
        "an expensive kind",
    )
    assert choose([Facts(1, "0001", "lgr", 0, rented=True)]) == ()  # seen today
