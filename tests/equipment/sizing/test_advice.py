"""What is suggested at a job: cases by hand, and that nothing is ever taken away without a reading at its goal."""

from hypothesis import given
from hypothesis import strategies as st

from equipment.sizing.advice import Advice, PointSeen, UnitsStanding, Wanted, advise

DEN_DRY = PointSeen(1, "den", "ground floor", 13, 12, 2, 24)
HALL_WET = PointSeen(2, "hall", "ground floor", 13, 19, 4, 24)
HALL_STUCK = PointSeen(2, "hall", "ground floor", 13, 19, -1, 25)
STANDING = (
    UnitsStanding("air_mover", "den", "ground floor", 3),
    UnitsStanding("lgr", "den", "ground floor", 1),
    UnitsStanding("generator", "outside", "ground floor", 1),
)


def told(points: tuple[PointSeen, ...], wanted: tuple[Wanted, ...] = ()) -> list[tuple[str, str]]:
    found = advise(points=points, standing=STANDING, wanted=wanted, no_progress_h=24)
    return [(line.do, line.what) for line in found]


def test_a_dry_room_gives_its_air_movers_and_keeps_the_dehumidifier() -> None:
    assert told((DEN_DRY, HALL_WET)) == [
        ("pull", "Take 3 air movers away from den. The dehumidifiers stay until the chamber is dry.")
    ]


def test_a_room_without_progress_gets_what_a_dry_room_no_longer_needs() -> None:
    assert told((DEN_DRY, HALL_STUCK)) == [
        ("move", "Move 3 air movers from den to hall."),
        ("review", "No progress in 24 h at point 2, hall: review the plan."),
    ]
    (_, review) = advise(points=(DEN_DRY, HALL_STUCK), standing=STANDING, wanted=(), no_progress_h=24)
    assert review.working.startswith("point 2 19 (goal 13) rose 1 in 25 h")
    early = PointSeen(2, "hall", "ground floor", 13, 19, 0, 8)
    assert "review" not in [do for do, _ in told((early,))]


def test_a_dry_chamber_gives_all_that_dries_but_not_its_power() -> None:
    assert told((DEN_DRY,)) == [("pull", "Take away what dries ground floor: 3 air movers, 1 low-grain dehumidifier.")]


def test_what_the_sizing_or_the_lead_wants_more_is_added_while_it_is_wet() -> None:
    more = (Wanted("lgr", "ground floor", 2, "the sizing"), Wanted("air_mover", "ground floor", 5, "the lead"))
    assert told((HALL_WET,), more) == [
        ("add", "Add 1 low-grain dehumidifier in ground floor."),
        ("add", "Add 2 air movers in ground floor."),
    ]
    assert told((DEN_DRY,), more)[0][0] == "pull"
    # Another kind of dehumidifier stands in for it.
    assert told((HALL_WET,), (Wanted("conventional", "ground floor", 1, "the sizing"),)) == []


NAMES = st.sampled_from(["den", "hall", "bath"])
VALUES = st.one_of(st.none(), st.floats(5, 40))
POINTS = st.builds(
    PointSeen,
    number=st.integers(1, 20),
    room=NAMES,
    chamber=st.sampled_from(["ground floor", "upstairs"]),
    goal=st.floats(10, 20),
    value=VALUES,
    fell=st.one_of(st.none(), st.floats(-5, 5)),
    over_h=st.one_of(st.none(), st.floats(0, 80)),
)
UNITS = st.builds(
    UnitsStanding,
    kind=st.sampled_from(["air_mover", "lgr", "heater"]),
    room=NAMES,
    chamber=st.sampled_from(["ground floor", "upstairs"]),
    count=st.integers(1, 9),
)


@given(points=st.lists(POINTS, max_size=8), standing=st.lists(UNITS, max_size=8))
def test_nothing_is_taken_where_a_point_is_above_goal_or_unread(
    points: list[PointSeen], standing: list[UnitsStanding]
) -> None:
    found: tuple[Advice, ...] = advise(points=points, standing=standing, wanted=(), no_progress_h=24)
    for line in found:
        if line.do in ("pull", "move"):
            where = line.key.partition(":")[2]
            mine = [point for point in points if where in (point.room, point.chamber)]
            # A room's name may stand in both chambers: one of the two is dry then.
            chambers = {point.chamber for point in mine}
            assert any(
                all(point.value is not None and point.value <= point.goal for point in mine if point.chamber == chamber)
                for chamber in chambers
            )
