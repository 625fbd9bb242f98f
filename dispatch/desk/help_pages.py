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
            "Two jobs that are one loss are joined on the page of either; one goes on, and they can be split again.",
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

# More than the hint at each field says, by the group of the call page; unfolded by F1 where the cursor stands.
GROUP_HELP: dict[str, tuple[str, ...]] = {
    "first": (
        "Number: read it back digit by digit. A number that we know opens its job.",
        "Danger: tick what you hear; what to read aloud appears beside it. Emergencies are for 911, not for us.",
    ),
    "caller": (
        "Name: as they say it; spelling can wait.",
        "Who they are: says who may let us in and who may sign. An agent or adjuster rings for somebody else.",
    ),
    "place": (
        "Street: with its number; the next cross street helps a crew at night.",
        "ZIP: finds town, state, county and local time. Without one, town and state do.",
        "Coordinates: for places without an address, or show it on the map below.",
    ),
    "water": (
        "Where from: clean pipe, appliance, or anything that was in a drain or on the ground.",
        "Still running: ask twice, and where the main valve is; only who can do it safely closes it.",
        "Power: off or wet outlets means that nobody walks into the water.",
        "Category: your best guess. It may be left empty; the lead decides on site.",
    ),
    "building": (
        "Building and homes: who else is below or beside, and which vehicle can park there.",
        "Year: before 1978 the lead is told that rules on lead paint may apply.",
    ),
    "people": (
        "Who needs care: infants, oxygen, pets. Only the crew sees it, and it is erased when the job closes.",
        "Lets us in: a name and a number, if it is another person. Access: gate, alarm, key box, low garages.",
        "Who can sign: the owner, or how the owner is reached. Work waits for a signature; stopping water does not.",
    ),
    "payer": (
        "Who pays: type a few letters. An unknown insurer is written as it is said.",
        "Claim number: if they have it. No crew waits for it. Never say what is covered.",
    ),
    "power": (
        "Circuits: the numbers on the breakers, such as 15, 20, 20. The power plan of the job starts from them.",
    ),
}
