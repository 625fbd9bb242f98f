"""What is written reads back the same, and no cell begins the way a formula does."""

import csv
import io

from hypothesis import example, given
from hypothesis import strategies as st

from equipment.sheets.reading import sheet_of
from equipment.sheets.writing import cell, csv_text, guarded, unguarded

TEXTS = st.text(st.characters(codec="utf-8", categories=("L", "N", "P", "S", "Zs")), max_size=30)
RISKY = st.builds(str.__add__, st.sampled_from(["=", "+", "-", "@", "'", "''=", "\uff1d"]), TEXTS)


@given(TEXTS | RISKY)
@example("'=1+1")
@example("''@x")
@example("'plain")
def test_a_guarded_text_comes_back(text: str) -> None:
    assert unguarded(guarded(text)) == text
    assert not guarded(text).startswith(("=", "+", "-", "@", "\t", "\r", "\uff1d", "\uff0b", "\uff0d", "\uff20"))


@given(st.lists(st.tuples(TEXTS | RISKY, TEXTS | RISKY), max_size=8))
def test_a_table_comes_back(rows: list[tuple[str, str]]) -> None:
    text = csv_text(["one", "two"], rows)

    assert [tuple(unguarded(c) for c in row) for row in csv.reader(io.StringIO(text))][1:] == rows
    there = [tuple(row.cells.values()) for row in sheet_of(text, "any").rows]
    kept = [tuple(cell(c).strip() for c in row) for row in rows]
    assert there == [row for row in kept if any(row)]


@given(st.floats(0.0001, 99_999, allow_nan=False))
def test_a_number_has_no_exponent_and_comes_back(value: float) -> None:
    assert set(cell(value)) <= set("0123456789.")
    assert abs(float(cell(value)) - value) <= 1e-9
