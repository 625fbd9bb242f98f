"""
Who has what: the journal of numbered units.

Every entry takes a unit from one holder and gives it to another. Entries settle by when they happened, whenever they
were recorded. The floor wins: a unit that the record has elsewhere can be loaded now, and a discrepancy opens. The one
hard stop is a unit from category 3 water that is not decontaminated.

Which stock a unit counts in (`UnitNow.pool`): out on a reservation, where it was drawn from; otherwise where it stands
ready. Not yet cleaned, held back, broken, in repair, on the road, not found: in no stock.
"""

from equipment.custody.answers import Scan, Scanned
from equipment.custody.conditions import StepsMissing, set_condition
from equipment.custody.corrections import MovedSince, correct_move, undo_scan
from equipment.custody.counting import Counted, count_units, not_found, settle_discrepancy
from equipment.custody.find import UnitUnknown
from equipment.custody.jobs import DirtyToNextJob, move_units, place_units, take_up_units
from equipment.custody.rental import NotRented, call_off, rent_in
from equipment.custody.scanning import AlreadyThere, NotDecontaminated, scan_in, scan_out
from equipment.custody.transfers import Received, receive_transfer, send_transfer

__all__ = [
    "AlreadyThere",
    "Counted",
    "DirtyToNextJob",
    "MovedSince",
    "NotDecontaminated",
    "NotRented",
    "Received",
    "Scan",
    "Scanned",
    "StepsMissing",
    "UnitUnknown",
    "call_off",
    "correct_move",
    "count_units",
    "move_units",
    "not_found",
    "place_units",
    "receive_transfer",
    "rent_in",
    "scan_in",
    "scan_out",
    "send_transfer",
    "set_condition",
    "settle_discrepancy",
    "take_up_units",
    "undo_scan",
]
