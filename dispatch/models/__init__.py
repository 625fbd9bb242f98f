from dispatch.models.call_outs import CallOut, CallOutStep, Notice
from dispatch.models.crews import Crew, Plan, Stop
from dispatch.models.help import HelpRequest
from dispatch.models.looks import LastLook
from dispatch.models.overrides import Override
from dispatch.models.people import CallOutOrder, Card, FirmLicense, Person, Shift, WorkSpell
from dispatch.models.positions import PhonePosition
from dispatch.models.presence import Presence
from dispatch.models.rota import RotaChange

__all__ = [
    "CallOut",
    "CallOutOrder",
    "CallOutStep",
    "Card",
    "Crew",
    "FirmLicense",
    "HelpRequest",
    "LastLook",
    "Notice",
    "Override",
    "Person",
    "PhonePosition",
    "Plan",
    "Presence",
    "RotaChange",
    "Shift",
    "Stop",
    "WorkSpell",
]
