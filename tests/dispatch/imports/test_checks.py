"""The dry run names every bad row by file, line and column, and says what would be right."""

import shutil
from datetime import date
from pathlib import Path

import pytest

from dispatch.imports.checks import Checked, check
from dispatch.imports.sheets import FolderUnusable, read_folder
from dispatch.imports.tables import TABLES
from tests.demo_company.tables import FOLDER

TODAY = date(2027, 1, 15)


@pytest.fixture
def company(tmp_path: Path) -> Path:
    """A copy of the demo company's importable files, to be spoiled."""
    for table in TABLES:
        shutil.copy(FOLDER / f"{table.name}.csv", tmp_path)
    return tmp_path


def spoil(company: Path, file: str, line: int, column: str, cell: str) -> None:
    path = company / f"{file}.csv"
    lines = path.read_text(encoding="utf-8").splitlines()
    header = lines[0].split(",")
    cells = lines[line - 1].split(",")
    assert len(cells) == len(header), "choose a row without quotes"
    cells[header.index(column)] = cell
    lines[line - 1] = ",".join(cells)
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def looked_over(company: Path) -> Checked:
    return check(read_folder(company), today=TODAY, known={})


def test_the_demo_company_has_no_bad_row(company: Path) -> None:
    found = looked_over(company)

    assert found.problems == ()
    assert found.not_read == ()
    assert len(found.rows["vehicles"]) == 40


@pytest.mark.parametrize(
    ("file", "line", "column", "cell", "right"),
    [
        ("areas", 2, "time_zone", "Pacific", "America/Los_Angeles would be one"),
        ("warehouses", 2, "zip", "9866", "such as 98661"),
        ("warehouses", 2, "zip", "00000", "no ZIP code that is in use"),
        ("warehouses", 2, "state", "OR", "lies in WA, not in OR"),
        ("warehouses", 2, "state", "ZZ", "such as OR"),
        ("warehouses", 2, "town", "Salem", "belongs to Vancouver, WA"),
        ("warehouses", 2, "lat", "-45.64", "lies far from ZIP 98661"),
        ("warehouses", 2, "lat", "95", "outside -90 to 90"),
        ("warehouses", 2, "area", "lower-colombia", "lower-columbia is meant?"),
        ("vehicles", 3, "kind", "compact", "compact_van is meant?"),
        ("vehicles", 3, "payload_lb", "5,000", "cells more than the header"),
        ("vehicles", 3, "payload_lb", "9000", "not less than the rated weight"),
        ("vehicles", 3, "payload_lb", "-3", "outside 100 to 40000"),
        ("vehicles", 3, "in_workshop", "maybe", "none of: yes, no"),
        ("equipment_models", 4, "rated_pints_per_day", "", "read the data plate"),
        ("equipment_models", 4, "rated_pints_per_day", "NaN", "no number"),
        ("equipment_models", 4, "kind", "dehumidifier", "none of: air_mover, lgr"),
        ("standing_stock", 2, "model", "AM-PL", "AM-LP is meant?"),
        ("units", 9, "number", "42", "four digits, such as 0042"),
        ("units", 9, "model", "AM-XX", "stands in no row of equipment_models.csv"),
        ("units", 9, "condition", "broken", "belongs to holder repair"),
        ("units", 9, "hour_meter_h", "1e9", "no number"),
        ("units", 9, "supplier", "Somebody", "not rented"),
        ("people", 5, "phone", "360-555-O101", "such as 360-555-0123"),
        ("people", 5, "role", "boss", "none of: dispatcher"),
        ("people", 5, "user_name", "Jo Marsh", "such as jmarsh"),
        ("people", 5, "warehouse", "nort", "north is meant?"),
        ("people", 5, "name", "", "needed in every row"),
        ("cards", 6, "user_name", "nobody", "no row of people.csv"),
        ("cards", 6, "expires_on", "2027-02-30", "2027-03-31"),
        ("cards", 6, "expires_on", "3/31/27", "2027-03-31"),
        ("cards", 6, "expires_on", "-3000", "before the day of issue"),
        ("payers", 2, "day_count", "hours", "none of: completed_24h"),
        ("payers", 2, "arrival_minutes", "soon", "no whole number"),
        ("state_rules", 2, "confidence", "sure", "none of: published"),
        ("state_rules", 2, "source", "", "needed in every row"),
        ("state_rules", 2, "valid_until", "-901", "not after valid_from"),
    ],
)
def test_a_bad_cell_is_named_with_what_would_be_right(
    company: Path, file: str, line: int, column: str, cell: str, right: str
) -> None:
    spoil(company, file, line, column, cell)

    problems = looked_over(company).problems

    # A row that is bad in its key leaves its dependents dangling; the first thing named is the cell itself.
    hits = [problem for problem in problems if right in problem.reason]
    assert [(hit.file, hit.line) for hit in hits] == [(f"{file}.csv", line)]
    assert hits[0].column in {column, ""}


def test_every_bad_row_is_named_not_just_the_first(company: Path) -> None:
    spoil(company, "people", 3, "phone", "call me")
    spoil(company, "people", 3, "role", "chief")
    spoil(company, "people", 7, "phone", "none")
    spoil(company, "units", 100, "model", "??")

    places = {(problem.file, problem.line, problem.column) for problem in looked_over(company).problems}

    assert places >= {
        ("people.csv", 3, "phone"),
        ("people.csv", 3, "role"),
        ("people.csv", 7, "phone"),
        ("units.csv", 100, "model"),
    }


def test_a_row_that_stands_twice_names_the_first_line(company: Path) -> None:
    path = company / "units.csv"
    lines = path.read_text(encoding="utf-8").splitlines()
    path.write_text("\n".join([*lines, lines[4]]) + "\n", encoding="utf-8")

    (problem,) = looked_over(company).problems

    assert (problem.file, problem.line) == ("units.csv", len(lines) + 1)
    assert "stands on line 5 already" in problem.reason


def test_a_misspelled_column_is_named_with_the_right_one(company: Path) -> None:
    path = company / "people.csv"
    path.write_text(path.read_text(encoding="utf-8").replace("user_name", "username", 1), encoding="utf-8")

    reasons = [str(problem) for problem in looked_over(company).problems if problem.file == "people.csv"]

    assert "people.csv line 1, username: is no column of this file; user_name is meant?" in reasons
    assert "people.csv line 1, user_name: is missing from the header; add this column" in reasons


def test_lines_are_counted_as_an_editor_counts_them(company: Path) -> None:
    """A quoted cell may run over two lines, and empty lines are skipped but counted."""
    path = company / "areas.csv"
    path.write_text('code,name,time_zone,phone\n\neast,"Gorge\nand hills",Nowhere,\n', encoding="utf-8")

    problems = [problem for problem in looked_over(company).problems if problem.file == "areas.csv"]

    assert {(problem.line, problem.column) for problem in problems} == {(4, "name"), (4, "time_zone")}


def test_a_file_that_nobody_reads_is_said(company: Path) -> None:
    (company / "vehicle.csv").write_text("code\nV99\n", encoding="utf-8")

    assert looked_over(company).not_read == ("vehicle.csv",)


def test_a_byte_order_mark_is_no_part_of_a_column(company: Path) -> None:
    path = company / "areas.csv"
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes())

    assert looked_over(company).problems == ()


def test_what_is_in_the_database_may_be_referred_to(tmp_path: Path) -> None:
    (tmp_path / "cards.csv").write_text(
        "user_name,kind,state,issued_on,expires_on\njmarsh,fit_test,,,2027-08-01\n", encoding="utf-8"
    )

    unknown = check(read_folder(tmp_path), today=TODAY, known={})
    known = check(read_folder(tmp_path), today=TODAY, known={"people": frozenset({"jmarsh"})})

    assert [problem.column for problem in unknown.problems] == ["user_name"]
    assert known.problems == ()
    assert known.rows["cards"][0].values["expires_on"] == date(2027, 8, 1)


def test_days_from_today_are_read_as_dates(company: Path) -> None:
    spoil(company, "cards", 2, "expires_on", "+30")

    assert looked_over(company).rows["cards"][0].values["expires_on"] == date(2027, 2, 14)


@pytest.mark.parametrize(
    ("name", "content", "message"),
    [
        ("people.csv", b"user_name\n\xff\xfe", "not UTF-8"),
        ("people.csv", b'user_name\n"open', "not a CSV file"),
        ("people.txt", b"user_name\n", "holds no CSV file"),
    ],
)
def test_a_folder_that_cannot_be_read_is_refused(tmp_path: Path, name: str, content: bytes, message: str) -> None:
    (tmp_path / name).write_bytes(content)

    with pytest.raises(FolderUnusable, match=message):
        read_folder(tmp_path)


def test_a_folder_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(FolderUnusable, match="is no folder"):
        read_folder(tmp_path / "nowhere")
