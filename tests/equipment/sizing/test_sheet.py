"""The printable sheet: what it says, and that it prints the same each time."""

from __future__ import annotations

from io import BytesIO

from pypdf import PdfReader

from equipment.sizing.port import size_document
from equipment.sizing.sheet import LeadsWord, sizing_sheet
from tests.equipment.sizing.losses import chamber, loss, wet_room
from tests.equipment.sizing.test_report import rich


def printed(document: dict[str, object], job: str = "Job 12, Elm Street") -> str:
    sheet = sizing_sheet(size_document(document), job=job, prepared="Jan 15, 22:47, R. Moss")
    text = "\n".join(page.extract_text() for page in PdfReader(BytesIO(sheet)).pages)
    return " ".join(text.split())


def test_the_sheet_shows_needs_equipment_power_and_working() -> None:
    text = printed(rich())
    for words in (
        "Job 12, Elm Street",
        "R. Moss",
        "simple-method",
        "Chamber: ground floor",
        "pints/day rated, lgr",
        "cfm process air, desiccant",
        "SHORT: air mover",
        "Wood floors",
        "99.9 % cleared",
        "slowest drywall",
        "chambers[0].air_movers.planned",
        "Page 1",
    ):
        assert words in text, words


def test_the_same_report_prints_the_same_bytes() -> None:
    report = size_document(rich())
    one, two = (sizing_sheet(report, job="a", prepared="b") for _ in range(2))
    assert one == two


def test_refusals_names_with_markup_and_foreign_letters_do_not_break_it() -> None:
    odd = chamber(wet_room("<b>tub & Küche \u6d74\u5ba4"), dehumidifier="conventional", bound_water=True)
    text = printed(loss(odd), job="<para> & \u6d74")
    assert "stalls near 40 % RH" in text
    assert "<b>tub & Küche" in text


def test_a_dry_loss_prints_too() -> None:
    assert "Sizing sheet" in printed(loss())


def test_the_leads_word_stands_beside_the_suggestion() -> None:
    word = LeadsWord("Air movers, ground floor", "7", "9", "long hall, two turns")
    sheet = sizing_sheet(size_document(rich()), job="Job 12", prepared="today", lead=[word])
    text = " ".join(PdfReader(BytesIO(sheet)).pages[0].extract_text().split())
    assert "The lead's word" in text
    assert "long hall, two turns" in text
    assert "Chamber: ground floor" in text
