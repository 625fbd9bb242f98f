# NFPA 70 (NEC) 210.19 and 210.20: 80 % of the breaker for continuous load; 12 A on 15, 16 A on 20.
from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from equipment.sizing.port import size_document
from tests.equipment.sizing.losses import chamber, codes, loss, model, room, wet_room


def powered(breakers: list[tuple[float, float]], also: dict[str, tuple[int, float]]) -> dict[str, Any]:
    stock = [model(name, "heater", running_a=amps) for name, (_, amps) in also.items()]
    document = loss(
        chamber(room()),
        catalogue=stock,
        also=[{"model": name, "count": count} for name, (count, _) in also.items()],
        circuits=[{"breaker_a": breaker, "reserved_a": reserved} for breaker, reserved in breakers],
    )
    return size_document(document).as_document()


def test_six_low_draw_movers_fit_on_fifteen_amps_and_a_seventh_does_not() -> None:
    assert powered([(15, 0)], {"mover": (6, 1.9)})["power"]["unplaced"] == {}
    found = powered([(15, 0)], {"mover": (7, 1.9)})
    assert found["power"]["unplaced"] == {"mover": 1}
    assert found["power"]["circuits"][0] == {"circuit": 0, "limit_a": 12, "used_a": 11.4, "units": {"mover": 6}}
    assert "circuits_short" in codes(found["cautions"])


@pytest.mark.parametrize(("breaker", "extra", "left"), [(20, 0, 0), (20, 1, 1), (15, 0, 1)])
def test_a_dehumidifier_a_scrubber_and_a_mover(breaker: int, extra: int, left: int) -> None:
    also = {"dehumidifier": (1, 8.3), "blower": (1, 4.7), "mover": (1, 1.5), "last": (extra, 1.9)}
    assert sum(powered([(breaker, 0)], also)["power"]["unplaced"].values()) == left


def test_limits_are_eighty_percent_less_what_is_reserved() -> None:
    found = powered([(15, 0), (20, 4.5), (30, 0), (20, 20)], {"mover": (1, 1.9)})["power"]
    assert [each["limit_a"] for each in found["circuits"]] == [12, 11.5, 24, -4]


def test_without_circuits_amps_are_added_up_and_said() -> None:
    found = powered([], {"mover": (3, 1.9)})
    assert found["power"] == {"total_a": 5.7, "circuits": [], "unplaced": {}, "proven": True}
    assert "circuits_unknown" in codes(found["cautions"])


def test_a_load_over_every_circuit_is_refused_by_name() -> None:
    found = powered([(15, 0), (20, 2)], {"heater": (1, 14.5), "mover": (2, 1.9)})
    refusal = next(each for each in found["refusals"] if each["code"] == "load_over_circuit")
    assert refusal["where"] == "catalogue[0].running_a"
    assert "heater" in refusal["message"]
    assert "14.5" in refusal["message"]
    assert found["power"]["unplaced"] == {"heater": 1}


def test_what_more_it_takes_is_said() -> None:
    found = powered([(15, 0)], {"mover": (13, 1.9)})
    message = next(each["message"] for each in found["cautions"] if each["code"] == "circuits_short")
    assert "7 x mover" in message
    assert "1 more circuit of 20 A" in message
    # 7 x 1.9 A x 120 V
    assert "1.596 kW" in message


def test_what_the_lead_adds_draws_power_and_meets_no_need() -> None:
    stock = [
        model("mover", "air_mover", running_a=1.5, free=9),
        model("lgr", "lgr", rated_pints_per_day=130, running_a=7),
    ]
    plain = loss(chamber(wet_room()), catalogue=stock)
    added = plain | {"also": [{"model": "mover", "count": 2}]}
    one, two = size_document(plain), size_document(added)
    assert one.mix == two.mix
    assert two.power.total_a - one.power.total_a == Fraction(3)


def test_nothing_is_lost_between_mix_and_circuits() -> None:
    document = loss(
        chamber(wet_room(), room("hall", wet_floor_sqft=100)),
        also=[{"model": "reference heater 1500 W", "count": 2}],
        circuits=[{"breaker_a": 15, "reserved_a": 1}, {"breaker_a": 20, "reserved_a": 0}],
    )
    report = size_document(document)
    there = {row.model: row.count for row in report.mix} | {"reference heater 1500 W": 2}
    placed = dict(report.power.unplaced)
    for circuit in report.power.circuits:
        assert circuit.used_a <= circuit.limit_a
        for name, count in circuit.units.items():
            placed[name] = placed.get(name, 0) + count
    assert placed == there


def test_thousands_of_units_are_placed_as_far_as_there_is_room_and_too_large_ones_still_named() -> None:
    found = powered([(15, 0), (20, 0)], {"heater": (900, 17), "mover": (5000, 1.9)})
    assert found["power"]["unplaced"] == {"heater": 900, "mover": 5000 - 6 - 8}
    assert "load_over_circuit" in codes(found["refusals"])


def test_a_reference_machine_too_large_for_the_circuits_names_them() -> None:
    document = loss(
        chamber(room()),
        also=[{"model": "reference heater 1500 W", "count": 1}],
        circuits=[{"breaker_a": 15, "reserved_a": 0}],
    )
    (refusal,) = size_document(document).refusals
    assert (refusal.code, refusal.where) == ("load_over_circuit", "circuits")
