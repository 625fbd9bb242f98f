"""Figures of the work hold by their days, each with its source; a file with a hole is refused."""

from datetime import date

import pytest

from jobs.rules import FigureHole, figure, figures, read

ROW = '[[hours]]\nvalue = {}\nunit = "h"\nsource = "{}"\nedition = "1"\nconfidence = "practice"\nvalid_from = {}\n'


def test_a_new_value_holds_from_its_day() -> None:
    text = ROW.format(8, "practice", "2025-01-01") + "valid_until = 2026-02-01\n" + ROW.format(6, "law", "2026-02-01")
    old, new = read(text)["hours"]
    days = [date(2026, 1, 31), date(2026, 2, 1)]
    assert [[row.value for row in (old, new) if row.holds(day)] for day in days] == [[8], [6]]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (ROW.format(8, "", "2025-01-01"), "name a source"),
        (ROW.format(8, "x", "2025-01-01").replace("edition", "issue"), "edition, issue"),
        (ROW.format(8, "x", "2025-01-01") + ROW.format(6, "x", "2026-02-01"), "two values hold on 2026-02-01"),
    ],
)
def test_a_hole_is_refused_by_name(text: str, said: str) -> None:
    with pytest.raises(FigureHole, match=said):
        read(text)


def test_ours_name_their_source_and_hold_now() -> None:
    assert set(figures()) == {"call_back_minutes", "no_progress_hours", "refuel_every_hours", "refuel_seconds"}
    assert all(rows[-1].valid_until is None for rows in figures().values())
    assert figure("refuel_every_hours", on=date(2026, 1, 15)) == 8
    with pytest.raises(FigureHole, match="no value holds on 1999-01-01"):
        figure("refuel_every_hours", on=date(1999, 1, 1))
