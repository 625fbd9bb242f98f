from jobs.models.area import Area, Membership
from jobs.models.call import Call, UrgencyWord
from jobs.models.drying import AirReading, MaterialPoint, MaterialReading
from jobs.models.due_work import DueWork
from jobs.models.job import Chamber, Contact, Job, LeadsWord, PrivateFacts, Room, WaysToReach
from jobs.models.journal import JournalEntry
from jobs.models.look import PrivateLook
from jobs.models.payer import Payer, PayerRule, StateRule
from jobs.models.photo import Photo
from jobs.models.promise import AgreedWith, Promise, PromiseEnd
from jobs.models.record import UseCaseCall
from jobs.models.signature import Signature, SignedBy
from jobs.models.token import ApiToken
from jobs.models.visit import Visit

__all__ = [
    "AgreedWith",
    "AirReading",
    "ApiToken",
    "Area",
    "Call",
    "Chamber",
    "Contact",
    "DueWork",
    "Job",
    "JournalEntry",
    "LeadsWord",
    "MaterialPoint",
    "MaterialReading",
    "Membership",
    "Payer",
    "PayerRule",
    "Photo",
    "PrivateFacts",
    "PrivateLook",
    "Promise",
    "PromiseEnd",
    "Room",
    "Signature",
    "SignedBy",
    "StateRule",
    "UrgencyWord",
    "UseCaseCall",
    "Visit",
    "WaysToReach",
]
