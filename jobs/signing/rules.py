"""Who may sign what, on which form: rules of the state as the company keeps them, never constants."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from django.db.models import Q

from jobs.models import StateRule

WHAT: Mapping[str, str] = {
    "emergency_mitigation": "stopping and drying the water damage",
    "equipment": "equipment that stays and runs, by its numbers",
    "removal": "removing building material",
    "contents_disposal": "throwing away contents",
    "key_box": "a key box or code for coming in",
}
ROLES: Mapping[str, str] = {
    "owner": "owner",
    "tenant": "tenant",
    "manager": "property manager",
    "agent": "insurance agent or other authorized agent",
}
EVERYWHERE = "US"


@dataclass(frozen=True)
class SigningRule:
    """
    Who may sign one thing in one state on one day, and on which form.

    `roles` is empty where the company keeps no rule of this state: then nothing is refused, and the answer says so.
    """

    what: str
    words: str
    state: str
    roles: tuple[str, ...]
    form: str
    form_edition: str
    source: str
    confidence: str
    note: str

    @property
    def who(self) -> str:
        """Who may sign, in words; empty without a rule."""
        return _either([ROLES.get(role, role.replace("_", " ")) for role in self.roles])

    def allows(self, role: str) -> bool:
        return not self.roles or role in self.roles


def signing_rules(*, state: str, on: date) -> tuple[SigningRule, ...]:
    """The rules for everything that is signed, as they hold in the state on a day (1 query)."""
    rows = StateRule.objects.filter(state__in=(state, EVERYWHERE), valid_from__lte=on)
    rows = rows.filter(Q(topic__startswith="who_signs_") | Q(topic__startswith="form_"))
    rows = rows.filter(Q(valid_until__isnull=True) | Q(valid_until__gt=on))
    # The state's own rule stands before one for all states, a newer one before an older.
    held = {(row.topic): row for row in sorted(rows, key=lambda row: (row.state == state, row.valid_from))}
    return tuple(_rule(what, state, held.get(f"who_signs_{what}"), held.get(f"form_{what}")) for what in WHAT)


def _rule(what: str, state: str, who: StateRule | None, form: StateRule | None) -> SigningRule:
    return SigningRule(
        what,
        WHAT[what],
        state,
        _roles(who),
        "" if form is None else str(form.value),
        "" if form is None else form.edition or f"{form.valid_from:%Y-%m-%d}",
        "" if who is None else who.source,
        "" if who is None else who.confidence,
        "" if who is None else who.note,
    )


def _roles(row: StateRule | None) -> tuple[str, ...]:
    if row is None:
        return ()
    return tuple(row.value.split() if isinstance(row.value, str) else map(str, row.value))


def _either(names: Iterable[str]) -> str:
    *others, last = [*names] or [""]
    return f"{', '.join(others)} or {last}" if others else last
