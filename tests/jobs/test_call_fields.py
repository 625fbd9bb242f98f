"""What may stand in the fields of a call; what is read aloud; how urgent it is."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.calls import fields, hazards, parsing, rooms
from jobs.calls.answers import read
from jobs.calls.urgency import urgency_of
from jobs.phones import digits, standard, whole
from jobs.refusals import Unusable


@pytest.mark.parametrize(
    ("field", "typed", "kept"),
    [
        ("callback_number", " (360) 555-0199 x4 ", "(360) 555-0199 x4"),
        ("hazards", ["gas", "ceiling"], ["gas", "ceiling"]),
        ("hazards", "ceiling sagging, gas smell", ["gas", "ceiling"]),
        ("state", "washington", "WA"),
        ("state", "or", "OR"),
        ("zip_code", "9866", "9866"),
        ("point", "45.62071, -122.57988", [45.62071, -122.57988]),
        ("point", [45.62071, -122.57988], [45.62071, -122.57988]),
        ("category", "2", 2),
        ("category", 3, 3),
        ("running", "Still running", "running"),
        ("hours_wet", "2.5", 2.5),
        ("dwelling_units", "1,204", 1204),
        ("circuits", "15, 20 (6)", [{"breaker_a": 15, "reserved_a": 0}, {"breaker_a": 20, "reserved_a": 6}]),
        ("circuits", [{"breaker_a": 15}], [{"breaker_a": 15, "reserved_a": 0}]),
        ("care", "", None),
        ("room:a:insulation_wet", "yes", True),
    ],
)
def test_what_is_typed_is_kept_in_one_form(field: str, typed: Any, kept: Any) -> None:
    assert read(field, typed) == kept


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        ("callback_number", "call me"),
        ("callback_number", "3" * 21),
        ("zip_code", "9866A"),
        ("state", "Wash state"),
        ("point", "45.6"),
        ("point", "45.6, 122.5"),
        ("point", "nan, -122"),
        ("year_built", "92"),
        ("year_built", "2x04"),
        ("category", "4"),
        ("hours_wet", "-1"),
        ("hours_wet", "1e9"),
        ("dwelling_units", "1.5"),
        ("circuits", "twenty"),
        ("circuits", "15 (20)"),
        ("hazards", ["lava"]),
        ("street", "x" * 121),
        ("room:a:length_ft", "-4"),
        ("room:a:length_ft", "4000"),
        ("room:a:count", "1.5"),
        ("room:a:height_ft", "inf"),
        ("room:a:insulation_wet", "perhaps"),
    ],
)
def test_what_cannot_be_meant_is_refused_without_repeating_it(field: str, typed: Any) -> None:
    """A refusal is recorded, so a name or number typed into the wrong field must not stand in it."""
    with pytest.raises(Unusable) as refused:
        read(field, typed)

    assert refused.value.where == field
    assert str(typed) not in refused.value.message.split()


@given(st.text(max_size=60), st.sampled_from([field.key for field in fields.FIELDS]))
def test_any_text_is_kept_or_refused_and_kept_text_reads_the_same_again(typed: str, field: str) -> None:
    try:
        kept = read(field, typed)
    except Unusable:
        return
    assert kept is None or read(field, kept) == kept


@given(st.text(max_size=60), st.sampled_from([*rooms.CELLS, "line"]))
def test_any_text_in_a_room_is_kept_or_refused(typed: str, cell: str) -> None:
    try:
        kept = read(f"room:a:{cell}", typed)
    except Unusable:
        return
    assert kept is None or read(f"room:a:{cell}", kept) == kept


def test_the_order_leaves_the_most_useful_half() -> None:
    order = [field.key for field in fields.FIELDS]

    assert order[:3] == ["callback_number", "hazards", "caller_name"]
    wanted = ["street", "water_source", "running", "power", "year_built", "care", "can_sign", "claim_number"]
    assert [key for key in order if key in wanted] == wanted


def test_names_numbers_codes_and_care_are_private() -> None:
    private = {field.key for field in fields.FIELDS if field.private}

    assert {"callback_number", "caller_name", "care", "lets_in", "access", "can_sign"} <= private
    assert not private & {"street", "town", "state", "zip_code", "point", "water_source", "year_built"}


@pytest.mark.parametrize(
    ("phone", "kept", "is_whole"),
    [
        ("(360) 555-0199", "360-555-0199", True),
        ("+1 360 555 0199", "360-555-0199", True),
        ("3605550199 ext. 12", "360-555-0199 x12", True),
        ("360-55", "360-55", False),
        ("+44 20 7946 0000", "+44 20 7946 0000", True),
    ],
)
def test_a_number_is_kept_in_one_form_so_that_it_is_known_again(phone: str, kept: str, is_whole: bool) -> None:
    assert (standard(phone), whole(phone)) == (kept, is_whole)
    assert digits(standard(phone)) == digits(phone)


def test_every_hazard_has_words_and_a_source() -> None:
    assert all(hazard.say and hazard.source for hazard in hazards.HAZARDS)
    assert len(hazards.BY_KEY) == len(hazards.HAZARDS)


def test_nothing_is_advised_on_which_sources_disagree() -> None:
    """Some pages say to pierce a bulging ceiling, others to wait; nobody is told to go near one, or near a panel."""
    ceiling = hazards.BY_KEY["ceiling"].say.lower()
    assert not any(word in ceiling for word in ("pierce", "drain", "poke", "bucket", "hole"))
    everything = " ".join(hazard.say.lower() for hazard in hazards.HAZARDS)
    assert "switch off" not in everything
    assert "turn off the breaker" not in everything


def test_help_comes_before_a_crew_in_what_is_said() -> None:
    said = hazards.to_say(["sewage", "mold", "gas"])

    assert [hazard.key for hazard in said] == ["gas", "sewage", "mold"]


@pytest.mark.parametrize(
    ("answers", "level"),
    [
        ({"hazards": ["gas"], "running": "stopped"}, "Danger first"),
        ({"running": "running"}, "Go now"),
        ({"running": "stopped", "water_source": "sewage"}, "Go now"),
        ({"running": "stopped", "building": "care home"}, "Go now"),
        ({"running": "stopped", "care": "infant"}, "Go now"),
        ({"running": "stopped"}, "First in the morning"),
    ],
)
def test_urgency_says_its_reason(answers: dict[str, Any], level: str) -> None:
    urgency = urgency_of(answers, [])

    assert urgency is not None
    assert urgency.level == level
    assert urgency.why
    assert urgency.aim


def test_wet_rooms_make_it_tonight_and_nothing_said_makes_no_guess() -> None:
    urgency = urgency_of({"running": "stopped"}, [{"wet_floor_sqft": 90}])

    assert urgency is not None
    assert urgency.level == "Go tonight"
    assert urgency_of({}, []) is None
    dry = urgency_of({"running": "stopped"}, [{"wet_floor_sqft": 90, "removed": True}])
    assert dry is not None
    assert dry.level == "First in the morning"


def test_a_whole_number_reads_as_one() -> None:
    assert isinstance(parsing.number(0, 10, "feet")("8.0"), int)
