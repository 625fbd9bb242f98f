"""Tags for units: a large number for people, a QR code for phones, a bar code for scanners."""

from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO

from reportlab.graphics.barcode import code128, qr
from reportlab.graphics.shapes import Drawing
from reportlab.lib.pagesizes import letter
from reportlab.lib.units import inch
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas

from equipment.models import Unit

COLUMNS, ROWS = 2, 5
WIDTH, HEIGHT = 4 * inch, 2 * inch
LEFT, BOTTOM = 0.25 * inch, 0.5 * inch
AT_MOST = 500
# The number and the bars stand in this width, with the bars' quiet zone of ten modules at either side.
ROOM = 2.1 * inch
MOST_BAR = 1.6
BOLD, PLAIN = "Helvetica-Bold", "Helvetica"


@dataclass(frozen=True)
class Tag:
    """One tag."""

    number: str
    model: str


def tags_of(*, first: str = "", last: str = "", model_id: int | None = None) -> tuple[Tag, ...]:
    """
    The units of a range of numbers (both ends included), of a model, or both. One more than fit at once shows that
    these are too many. One query.
    """
    rows = Unit.objects.select_related("model").order_by("number")
    if first:
        rows = rows.filter(number__gte=first)
    if last:
        rows = rows.filter(number__lte=last)
    if model_id is not None:
        rows = rows.filter(model=model_id)
    return tuple(Tag(row.number, row.model.name) for row in rows[: AT_MOST + 1])


def tags_pdf(tags: Sequence[Tag]) -> bytes:
    """Letter pages of ten 4 x 2 inch tags."""
    buffer = BytesIO()
    canvas = Canvas(buffer, pagesize=letter)
    canvas.setTitle("Unit tags")
    for position, tag in enumerate(tags):
        place = position % (COLUMNS * ROWS)
        if place == 0 and position:
            canvas.showPage()
        column, row = place % COLUMNS, place // COLUMNS
        _draw(canvas, tag, LEFT + column * WIDTH, BOTTOM + (ROWS - 1 - row) * HEIGHT)
    canvas.save()
    return buffer.getvalue()


def _draw(canvas: Canvas, tag: Tag, x: float, y: float) -> None:
    _corners(canvas, x, y)
    side = 1.4 * inch
    code = qr.QrCodeWidget(tag.number, barLevel="Q")
    left, bottom, right, top = code.getBounds()
    drawing = Drawing(side, side, transform=[side / (right - left), 0, 0, side / (top - bottom), 0, 0])
    drawing.add(code)
    drawing.drawOn(canvas, x + 0.1 * inch, y + 0.45 * inch)
    middle = x + 1.62 * inch + ROOM / 2
    canvas.setFont(BOLD, _size_for(tag.number, BOLD, most=68, room=ROOM))
    canvas.drawCentredString(middle, y + 1.14 * inch, tag.number)
    modules = code128.Code128(tag.number, barWidth=1, quiet=False).width
    bars = code128.Code128(tag.number, barHeight=0.5 * inch, barWidth=min(MOST_BAR, ROOM / modules), quiet=False)
    bars.drawOn(canvas, middle - bars.width / 2, y + 0.5 * inch)
    canvas.setFont(PLAIN, _size_for(tag.model, PLAIN, most=12, room=WIDTH - 0.4 * inch))
    canvas.drawString(x + 0.2 * inch, y + 0.2 * inch, tag.model)


def _size_for(text: str, font: str, *, most: float, room: float) -> float:
    """The largest size in points, up to `most`, at which the text is no wider than `room`."""
    return min(most, room / max(stringWidth(text, font, 1), 1e-6))


def _corners(canvas: Canvas, x: float, y: float) -> None:
    """Where to cut: a thin cross at each corner."""
    canvas.saveState()
    canvas.setLineWidth(0.3)
    canvas.setStrokeGray(0.6)
    for cx in (x, x + WIDTH):
        for cy in (y, y + HEIGHT):
            canvas.line(cx - 5, cy, cx + 5, cy)
            canvas.line(cx, cy - 5, cx, cy + 5)
    canvas.restoreState()
