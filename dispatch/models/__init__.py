from dispatch.models.call_outs import CallOut, CallOutStep, Notice
from dispatch.models.crews import Crew, Plan, Stop
from dispatch.models.people import CallOutOrder, Card, FirmLicense, Person, Shift, WorkSpell

__all__ = [
    "CallOut",
    "CallOutOrder",
    "CallOutStep",
    "Card",
    "Crew",
    "FirmLicense",
    "Notice",
    "Person",
    "Plan",
    "Shift",
    "Stop",
    "WorkSpell",
]
