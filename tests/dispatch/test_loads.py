"""Loads by kind: nothing is lost between them, and none is larger than a vehicle."""

from hypothesis import given
from hypothesis import strategies as st

from dispatch.loads import first_load, further_loads, left_of, that_fits

KINDS = st.sampled_from(["air_mover", "lgr", "cavity_kit"])
LOADS = st.dictionaries(KINDS, st.integers(1, 60))


@given(needed=LOADS, capacities=st.lists(LOADS, min_size=1, max_size=4))
def test_the_loads_add_up_and_each_fits_a_vehicle(needed: dict[str, int], capacities: list[dict[str, int]]) -> None:
    first = first_load(needed, capacities)
    loads = (first, *further_loads(left_of(needed, first), capacities))
    total = {kind: sum(load.get(kind, 0) for load in loads) for kind in needed}
    assert total == needed
    carried = [load for load in loads if any(kind in capacity for kind in load for capacity in capacities)]
    assert all(any(that_fits(load, capacity) == load for capacity in capacities) for load in carried)


def test_without_a_vehicle_the_whole_need_stands() -> None:
    assert first_load({"lgr": 2}, []) == {"lgr": 2}
    assert further_loads({"lgr": 2}, [{"air_mover": 4}]) == ({"lgr": 2},)
