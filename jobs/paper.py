"""What our printed sheets share: page, styles, tables and sections; the same content prints the same bytes."""

from collections.abc import Sequence
from io import BytesIO
from xml.sax.saxutils import escape

from reportlab.lib import colors
from reportlab.lib.pagesizes import letter
from reportlab.lib.styles import ParagraphStyle, getSampleStyleSheet
from reportlab.lib.units import inch
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, KeepTogether, Paragraph, SimpleDocTemplate, Spacer, Table, TableStyle

SIDE = 0.7 * inch
WIDTH = letter[0] - 2 * SIDE
INK = colors.HexColor("#1c2430")
RULE = colors.HexColor("#aab3bf")
SHADE = colors.HexColor("#eef1f4")

_base = getSampleStyleSheet()
TEXT = ParagraphStyle("text", parent=_base["BodyText"], fontSize=9, leading=12, textColor=INK, spaceBefore=0)
SMALL = ParagraphStyle("small", parent=TEXT, fontSize=7.5, leading=9.5)
HEAD = ParagraphStyle("head", parent=TEXT, fontName="Helvetica-Bold", fontSize=9)
TITLE = ParagraphStyle("title", parent=TEXT, fontName="Helvetica-Bold", fontSize=16, leading=20, spaceAfter=4)
SECTION = ParagraphStyle("section", parent=TEXT, fontName="Helvetica-Bold", fontSize=11, leading=14, spaceBefore=10)


def sheet(story: list[Flowable], *, title: str, subject: str) -> bytes:
    """The story on letter paper, with `title` and the page's number at each foot."""
    out = BytesIO()
    document = SimpleDocTemplate(
        out,
        pagesize=letter,
        leftMargin=SIDE,
        rightMargin=SIDE,
        topMargin=SIDE,
        bottomMargin=0.8 * inch,
        title=title,
        author="Ebbline",
        subject=subject,
        # Without it the file would carry the time of printing and differ each time.
        invariant=1,
    )

    def foot(canvas: Canvas, _: object) -> None:
        canvas.saveState()
        canvas.setFont("Helvetica", 7.5)
        canvas.setFillColor(INK)
        canvas.drawString(SIDE, 0.5 * inch, printable(title)[:110])
        canvas.drawRightString(letter[0] - SIDE, 0.5 * inch, f"Page {canvas.getPageNumber()}")
        canvas.restoreState()

    document.build(story, onFirstPage=foot, onLaterPages=foot)
    return out.getvalue()


def printable(text: str) -> str:
    """The built-in faces hold Latin letters only; anything else prints as a question mark rather than as a blank."""
    return text.encode("cp1252", "replace").decode("cp1252")


def words(text: str) -> str:
    """Text for a paragraph, in which marks mean nothing."""
    return escape(printable(text))


def table(
    head: Sequence[str], rows: Sequence[Sequence[str]], shares: Sequence[float], style: ParagraphStyle = TEXT
) -> Table:
    """A ruled table over the page's width, its head repeated on every page; `shares` of the width sum to 1."""
    cells = [[Paragraph(words(cell), HEAD if style is TEXT else SMALL) for cell in head]]
    cells += [[Paragraph(words(cell), style) for cell in row] for row in rows]
    made = Table(cells, colWidths=[WIDTH * share for share in shares], repeatRows=1)
    made.setStyle(
        TableStyle(
            [
                ("BACKGROUND", (0, 0), (-1, 0), SHADE),
                ("LINEBELOW", (0, 0), (-1, -1), 0.4, RULE),
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("TOPPADDING", (0, 0), (-1, -1), 2.5),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5),
            ]
        )
    )
    return made


def section(title: str, *parts: Flowable) -> list[Flowable]:
    """A titled part, the title kept with what follows."""
    first, *rest = parts
    return [KeepTogether([Paragraph(words(title), SECTION), Spacer(1, 3)]), first, *rest]
