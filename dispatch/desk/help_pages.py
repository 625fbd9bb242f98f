"""Help in place: a few plain lines for each part of the board and of the call page. No database."""

from dataclasses import dataclass


@dataclass(frozen=True)
class HelpPart:
    """The help on one part, under the anchor that the part's link leads to."""

    anchor: str
    name: str
    lines: tuple[str, ...]


PARTS = (
    HelpPart(
        "help-call",
        "Taking a call",
        (
            "New call, or Alt+Shift+N on most browsers, opens a page; the cursor stands in the number.",
            "Ask in any order. Tab goes on. Every answer is saved as you type; nothing but a number is needed.",
            "First danger, then the number, then where, then the water. If the line drops, that half is enough.",
            "Dark words under Say aloud are to be read to the caller as they stand.",
            "A town in two states is asked back. State, county and local time stay on the top line.",
            "A known number or the same address is offered as one loss: join it, or leave it. Joining can be undone.",
            "Two calls at once: open the second in another tab. Both are safe, also if the browser dies.",
        ),
    ),
    HelpPart(
        "help-rooms",
        "Rooms",
        (
            "One line a room: kitchen 13x15 floor 90. Enter starts the next; Enter on an empty line leaves the list.",
            "Words like floor, walls and ceiling take what is wet, in square feet.",
            "The estimate is worked out as you type. The lead decides on site.",
        ),
    ),
    HelpPart(
        "help-send",
        "Ending a call",
        (
            "Ctrl+Enter lists who can go, soonest first, and why each of the others cannot.",
            "Send names the crew, holds the equipment, writes the load list and asks the crew, all at once.",
            "Book a visit: a day and, where promised, a window. End without a crew: say why.",
            "Then read the say-back: who comes, when, what to do until then, our number.",
        ),
    ),
    HelpPart(
        "help-promises",
        "Promises",
        (
            "What breaks first stands at the top. A late one stays until you say what became of it.",
            "Open one to say that it was done, or to agree another time: with whom, and when.",
            "Arrivals end by themselves when the crew arrives.",
        ),
    ),
    HelpPart(
        "help-asks",
        "Asked, no answer yet",
        (
            "The next person is asked by itself. You need not watch the clock.",
            "If the person answers on the phone, press what they say.",
        ),
    ),
    HelpPart(
        "help-changes",
        "Changed since you last looked",
        ("What others did, the newest first. It stays until you press that you have seen it.",),
    ),
    HelpPart(
        "help-crews",
        "Crews",
        ("Where each crew is, how much of its day is left, and until when it works.",),
    ),
    HelpPart(
        "help-due",
        "Due, on nobody's route",
        ("These visits have no crew. Plan the day, or call them and agree another time.",),
    ),
    HelpPart(
        "help-free",
        "Free tonight",
        ("Units that are ready and promised to nobody for the next twelve hours. Vehicles' loads are not in it.",),
    ),
    HelpPart(
        "help-handover",
        "End of the shift",
        (
            "Hand-over lists everything open, what to do first, and why things were decided. It writes itself.",
            "Tonight's board is written every hour for the night in which the program is down. Know where it lies.",
        ),
    ),
)
