"""Writing a table so that it reads back the same, and so that no spreadsheet takes a cell for a formula."""

import csv
import io
from collections.abc import Iterable, Sequence
from decimal import Decimal

# What spreadsheets begin a formula with, wide forms too (OWASP, CSV Injection).
# The apostrophe is how they mark plain text.
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\uff1d", "\uff0b", "\uff0d", "\uff20")
APOSTROPHE = "'"
# As many as a number's cell may have.
DECIMALS = 9


def guarded(text: str) -> str:
    """The text with an apostrophe before it where a spreadsheet would calculate."""
    return APOSTROPHE + text if _would_calculate(text) else text


def unguarded(cell: str) -> str:
    """The text that `guarded` made the cell of."""
    return cell[1:] if cell.startswith(APOSTROPHE) and _would_calculate(cell[1:]) else cell


def _would_calculate(text: str) -> bool:
    # Apostrophes in front count as well, or a text that has one of its own would read back without it.
    return text.lstrip(APOSTROPHE).startswith(FORMULA_STARTS)


def cell(value: object) -> str:
    """One value as a cell: empty for None, yes and no, numbers with a point and never an exponent."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float | Decimal):
        plain = format(Decimal(str(round(value, DECIMALS))), "f")
        return plain.rstrip("0").rstrip(".") if "." in plain else plain
    return guarded(str(value)) if not isinstance(value, int) else str(value)


def csv_text(columns: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """The file's text: a header and the rows, lines ended as RFC 4180 says."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(columns)
    writer.writerows([cell(value) for value in row] for row in rows)
    return out.getvalue()
