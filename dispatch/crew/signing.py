"""What the stop shows of signing: who may sign what, what is signed, and whether the work is signed for."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from dispatch.crew.pages import StopPage
from jobs.models import Visit
from jobs.signing.rules import ROLES, SigningRule, signing_rules
from jobs.signing.sign import THE_WORK, SignatureLine, signatures_of


@dataclass(frozen=True)
class Signing:
    """Everything of signing on the page of a stop. `wanted`: nobody has signed for the work that begins here."""

    state: str
    rules: tuple[SigningRule, ...]
    signatures: tuple[SignatureLine, ...]
    wanted: bool

    @property
    def roles(self) -> Mapping[str, str]:
        return ROLES


def signing_at(page: StopPage, *, now: datetime) -> Signing:
    """Of one stop, by the state's rules on its local day (2 queries)."""
    signatures = signatures_of(page.job_id)
    begins = page.kind in (Visit.Kind.EMERGENCY, Visit.Kind.FIRST)
    wanted = begins and not page.authorized and all(line.what != THE_WORK for line in signatures)
    rules = signing_rules(state=page.us_state, on=now.astimezone(page.zone).date())
    return Signing(page.us_state, rules, signatures, wanted)
