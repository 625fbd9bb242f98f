"""Tonight's board on paper."""

from reportlab.platypus import Flowable, Paragraph

from dispatch.desk.night_pages import NightBoard, NightJob
from dispatch.desk.on_paper import at, part
from equipment.sizing_paper import Paper
from jobs.paper import TEXT, TITLE, sheet, words


def night_pdf(board: NightBoard) -> Paper:
    """The board as one PDF, whom to phone first."""
    zone, local = board.zone, board.now.astimezone(board.zone)
    as_of = f"{local:%a %b} {local.day}, {local:%-I:%M %p %Z}"
    ladder = [(str(line.position), line.name, line.phone, line.crew) for line in board.ladder]
    callers = [
        (f"{call.name} {call.where}".strip(), call.phone, at(call.since, zone), at(call.next_contact_at, zone))
        for call in board.callers
    ]
    crews = [
        (
            f"{crew.name}, {crew.vehicle}",
            "; ".join(f"{name} {phone}" for name, phone in crew.people),
            f"{at(crew.starts_at, zone)} to {at(crew.until, zone)}",
            "; ".join(crew.stops) or crew.where,
        )
        for crew in board.crews
    ]
    jobs = [
        (
            job.number,
            job.address,
            f"{job.contact} {job.phone}".strip(),
            _state(job),
            "; ".join([job.next_visit, *job.promised]),
        )
        for job in board.jobs
    ]
    free = [(line.model, *map(str, line.free), str(line.total)) for line in board.free]
    share = 0.66 / (len(board.warehouses) + 1)
    story: list[Flowable] = [
        Paragraph("Tonight's board", TITLE),
        Paragraph(words(f"{board.area}, as of {as_of}. For the night in which the system is down."), TEXT),
        Paragraph(words(f"Our number: {board.our_number}. Shred this sheet when the next one is printed."), TEXT),
        *part("On call, in this order", ("", "Who", "Number", "Crew"), (0.06, 0.3, 0.24, 0.4), ladder),
        *part("Managers", ("Who", "Number"), (0.5, 0.5), board.managers),
        *part(
            "Waiting callers", ("Who and where", "Number", "Since", "Call back by"), (0.46, 0.2, 0.17, 0.17), callers
        ),
        *part("Crews", ("Crew", "Numbers", "Hours", "Stops ahead"), (0.18, 0.26, 0.2, 0.36), crews),
        *part("Open jobs", ("Job", "Address", "Phone", "State", "Next"), (0.1, 0.24, 0.22, 0.16, 0.28), jobs),
        *part(
            "Free equipment", ("Model", *board.warehouses, "All"), (0.34, *[share] * (len(board.warehouses) + 1)), free
        ),
    ]
    return Paper(
        f"board-{local:%Y-%m-%d-%H%M}.pdf", sheet(story, title=f"Board, {board.area}, {as_of}", subject=board.area)
    )


def _state(job: NightJob) -> str:
    water = f"category {job.category}" if job.category else ""
    return ", ".join(filter(None, (job.stage, water, f"{job.units} units" if job.units else "")))
