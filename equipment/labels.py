"""Tags for units: a large number for people, a QR code for phones, a bar code for scanners."""

from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO

from reportlab.graphics.barcode import code128, qr
from reportlab.graphics.shapes import Drawing
from reportlab.lib.pagesizes import letter
from reportlab.lib.units import inch
from reportlab.pdfgen.canvas import Canvas

from equipment.models import Unit

COLUMNS, ROWS = 2, 5
WIDTH, HEIGHT = 4 * inch, 2 * inch
LEFT, BOTTOM = 0.25 * inch, 0.5 * inch
AT_MOST = 500


@dataclass(frozen=True)
class Tag:
    """One tag."""

    number: str
    model: str


def tags_of(*, first: str = "", last: str = "", model_id: int | None = None) -> tuple[Tag, ...]:
    """The units of a range of numbers (both ends included), of a model, or both. One query."""
    rows = Unit.objects.select_related("model").order_by("number")
    if first:
        rows = rows.filter(number__gte=first)
    if last:
        rows = rows.filter(number__lte=last)
    if model_id is not None:
        rows = rows.filter(model=model_id)
    return tuple(Tag(row.number, row.model.name) for row in rows[:AT_MOST])


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
    side = 1.3 * inch
    code = qr.QrCodeWidget(tag.number, barLevel="Q")
    left, bottom, right, top = code.getBounds()
    drawing = Drawing(side, side, transform=[side / (right - left), 0, 0, side / (top - bottom), 0, 0])
    drawing.add(code)
    drawing.drawOn(canvas, x + 0.1 * inch, y + 0.55 * inch)
    canvas.setFont("Helvetica-Bold", 56 if len(tag.number) <= 5 else 34)
    canvas.drawRightString(x + WIDTH - 0.25 * inch, y + 0.95 * inch, tag.number)
    bars = code128.Code128(tag.number, barHeight=0.4 * inch, barWidth=1.4)
    bars.drawOn(canvas, x + WIDTH - 0.1 * inch - bars.width, y + 0.45 * inch)
    canvas.setFont("Helvetica", 10)
    canvas.drawString(x + 0.2 * inch, y + 0.25 * inch, tag.model[:60])
