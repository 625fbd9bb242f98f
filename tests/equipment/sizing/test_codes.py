"""The codes that leave the port: listed as data, all of them used, none of them unlisted."""

from __future__ import annotations

import ast
from pathlib import Path

import equipment.sizing
from equipment.sizing.codes import INPUT_CODES, all_codes
from equipment.sizing.safety import safety

SOURCES = [path.read_text(encoding="utf-8") for path in Path(equipment.sizing.__file__).parent.glob("*.py")]


def words() -> set[str]:
    """Every string that stands alone in the code."""
    return {
        node.value
        for source in SOURCES
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    }


def test_codes_are_unique_and_sorted() -> None:
    codes = [each.code for each in all_codes()]
    assert len(codes) == len(set(codes))
    assert {each.kind for each in all_codes()} == {"input", "refusal", "caution"}


def test_every_refusal_and_caution_is_raised_somewhere() -> None:
    assert sorted(set(safety().gates) - words()) == []


def test_every_input_code_is_raised_somewhere() -> None:
    assert sorted(set(INPUT_CODES) - words()) == []


def test_every_notice_defers_or_informs_with_a_source() -> None:
    for gate in safety().gates.values():
        assert gate.source
        assert gate.message.endswith(".")


def test_hazards_defer_to_local_rules_or_qualified_people() -> None:
    deferring = ("local", "licensed", "qualified", "certified", "accredited", "agency", "medical", "trained", "state")
    for code in (
        "lead_safe_work", "lead_paint", "lead_emergency", "asbestos", "asbestos_inspection", "sewage", "electricity",
        "gfci", "ceiling", "confined_space", "gas", "generator", "generator_too_close", "mould_licence",
        "cavity_fire_rated", "load_over_circuit", "circuits_short", "respirators", "hvac_off",
    ):  # fmt: skip
        assert any(word in safety().gates[code].message.lower() for word in deferring), code
