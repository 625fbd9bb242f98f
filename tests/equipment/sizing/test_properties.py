"""What must hold for any loss: more water, more room and more rooms never ask for less."""

from __future__ import annotations

import copy
import json
from fractions import Fraction
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from equipment.sizing.loss_checks import read_loss
from equipment.sizing.port import run, size, size_document
from equipment.sizing.report import Report
from equipment.sizing.rule_set import chosen_rules
from tests.equipment.sizing.losses import chamber, loss, model, room

EDGES = st.integers(4, 60)
SHARES = st.sampled_from([Fraction(n, 8) for n in range(9)])
KINDS = st.sampled_from(["conventional", "lgr", "desiccant"])
WET_KEYS = ("wet_floor_sqft", "wet_lower_wall_sqft", "wet_upper_wall_sqft", "wet_ceiling_sqft")


def surfaces(length: int, width: int, height: int) -> dict[str, Fraction]:
    around = Fraction(2 * (length + width))
    return dict(
        zip(
            WET_KEYS,
            (Fraction(length * width), around * 2, around * (height - 2), Fraction(length * width)),
            strict=True,
        )
    )


@st.composite
def rooms(draw: st.DrawFn, name: str = "room") -> dict[str, Any]:
    length, width, height = draw(EDGES), draw(EDGES), draw(st.integers(7, 14))
    wet = {key: most * draw(SHARES) for key, most in surfaces(length, width, height).items()}
    return room(
        name, length_ft=length, width_ft=width, height_ft=height, offsets_over_18in=draw(st.integers(0, 2)), **wet
    )


def sized(document: dict[str, Any]) -> Report:
    read = read_loss(document)
    return size(read, chosen_rules(read.rules), with_mix=False, with_power=False)


def needs(report: Report) -> list[Fraction]:
    """Every need of a one-chamber loss, as numbers that may be compared."""
    (one,) = report.chambers
    asked = one.dehumidification
    capacity = Fraction(0) if asked is None else asked.pints_per_day or asked.process_cfm or Fraction(0)
    movers = one.air_movers
    return [capacity, *(Fraction(count) for count in (movers.low, movers.planned, movers.high))]


def at_least(more: Report, less: Report) -> bool:
    return all(a >= b for a, b in zip(needs(more), needs(less), strict=True))


@given(rooms(), st.sampled_from(WET_KEYS), SHARES, st.sampled_from(["conventional", "lgr", "desiccant"]))
def test_more_wet_never_needs_less(one: dict[str, Any], key: str, share: Fraction, kind: str) -> None:
    most = surfaces(one["length_ft"], one["width_ft"], one["height_ft"])[key]
    wetter = one | {key: one[key] + (most - one[key]) * share}
    assert at_least(sized(loss(chamber(wetter, dehumidifier=kind))), sized(loss(chamber(one, dehumidifier=kind))))


@given(rooms(), st.integers(0, 40), st.integers(0, 40), KINDS, st.integers(1, 3))
def test_a_bigger_room_of_the_same_class_never_needs_less(
    one: dict[str, Any], longer: int, wider: int, kind: str, water_class: int
) -> None:
    bigger = one | {"length_ft": one["length_ft"] + longer, "width_ft": one["width_ft"] + wider}
    shape = {"dehumidifier": kind, "class": water_class}
    before, after = (needs(sized(loss(chamber(each, **shape)))) for each in (one, bigger))
    assert after[0] >= before[0]
    # The small-room allowance ends at 25 sq ft, so even the low count cannot fall.
    assert all(now >= then for now, then in zip(after[1:], before[1:], strict=True))


@given(rooms("a"), rooms("b"))
def test_merging_two_rooms_never_needs_more_movers_than_the_two(a: dict[str, Any], b: dict[str, Any]) -> None:
    merged = room(
        "both",
        length_ft=None,
        width_ft=None,
        floor_sqft=Fraction(a["length_ft"] * a["width_ft"] + b["length_ft"] * b["width_ft"]),
        height_ft=100,
        offsets_over_18in=a["offsets_over_18in"] + b["offsets_over_18in"],
        **{key: a[key] + b[key] for key in ("wet_floor_sqft", "wet_upper_wall_sqft", "wet_ceiling_sqft")},
    )
    apart = needs(sized(loss(chamber(a, b))))[1:]
    together = needs(sized(loss(chamber(merged))))[1:]
    small = any(each["length_ft"] * each["width_ft"] < 25 for each in (a, b))
    # Where both were small rooms the allowance for them is lost with the walls between them.
    assert all(one <= two for one, two in list(zip(together, apart, strict=True))[1 if small else 0 :])


@given(rooms(), st.integers(1, 3), SHARES)
def test_low_planned_and_high_stand_in_order(one: dict[str, Any], category: int, share: Fraction) -> None:
    counts = sized(loss(chamber(one), category=category)).chambers[0].air_movers
    assert 0 <= counts.low <= counts.high
    assert counts.planned == 0 if category == 3 else counts.low <= counts.planned <= counts.high


@given(rooms(), rooms("other"))
def test_a_room_more_never_takes_anything_away(one: dict[str, Any], other: dict[str, Any]) -> None:
    shape: dict[str, Any] = {"class": 2}
    assert at_least(sized(loss(chamber(one, other, **shape))), sized(loss(chamber(one, **shape))))


STOCK = st.lists(
    st.tuples(
        st.sampled_from(["lgr", "air_mover", "air_scrubber"]),
        st.integers(30, 200),
        st.decimals("0.5", "12", places=1),
        st.integers(0, 6),
    ),
    max_size=6,
)


@settings(max_examples=40, deadline=None)
@given(rooms("a"), rooms("b"), STOCK, st.lists(st.tuples(st.sampled_from([15, 20, 30]), st.integers(0, 5)), max_size=5))
def test_the_mix_covers_or_says_how_much_not_and_nothing_is_lost(
    a: dict[str, Any], b: dict[str, Any], stock: list[tuple[str, int, Any, int]], breakers: list[tuple[int, int]]
) -> None:
    keys = {"lgr": "rated_pints_per_day", "air_scrubber": "airflow_cfm"}
    catalogue = [
        model(f"m{n}", kind, running_a=float(amps), free=free, **({keys[kind]: each} if kind in keys else {}))
        for n, (kind, each, amps, free) in enumerate(stock)
    ]
    circuits = [{"breaker_a": breaker, "reserved_a": reserved} for breaker, reserved in breakers]
    document = loss(chamber(a), chamber(b, name="two"), catalogue=catalogue, circuits=circuits, mould_sqft=1)
    report = size_document(document)
    taken: dict[str, int] = {}
    given_: dict[tuple[str | None, str], Fraction] = {}
    entries = {entry["model"]: entry for entry in catalogue}
    for row in report.mix:
        taken[row.model] = taken.get(row.model, 0) + row.count
        each = entries[row.model].get(keys.get(row.kind, ""), 1) or 1
        given_[row.chamber, row.kind] = given_.get((row.chamber, row.kind), Fraction(0)) + row.count * each
    assert all(count <= entries[name]["free"] for name, count in taken.items())
    short = {(each.chamber, each.kind): each for each in report.short}
    for one in report.chambers:
        assert one.dehumidification is not None
        for kind, wanted in (("lgr", one.dehumidification.pints_per_day), ("air_mover", one.air_movers.planned)):
            found = given_.get((one.name, kind), Fraction(0))
            missing = short.get((one.name, kind))
            assert (missing is None) == (found >= (wanted or 0))
            if missing is not None:
                assert (missing.found, missing.wanted) == (found, wanted)
    if circuits:
        placed = dict(report.power.unplaced)
        for circuit in report.power.circuits:
            assert circuit.used_a <= max(circuit.limit_a, 0)
            for name, count in circuit.units.items():
                placed[name] = placed.get(name, 0) + count
        assert placed == taken


@settings(max_examples=25, deadline=None)
@given(rooms("a"), rooms("b"))
def test_the_same_loss_is_written_the_same(a: dict[str, Any], b: dict[str, Any]) -> None:
    document = loss(chamber(a, b), circuits=[{"breaker_a": 20, "reserved_a": 0}])
    plain = json.loads(json.dumps(document, default=float))
    assert run(json.dumps(plain)) == run(json.dumps(copy.deepcopy(plain), indent=2))
