"""
Neutral words in place of private ones, the same for the same, so that a night can leave the house.

Names, user names, numbers, streets, claim numbers and access codes become invented ones; free text is left out; a
place on the map keeps two decimals, which is about half a mile.
"""

import re
from collections.abc import Callable, Mapping
from typing import Any

FREE_TEXT = frozenset({"reason", "note", "because", "told", "with_whom", "why", "explanation", "what_was_done"}) | {
    "leads_reason",
    "limits",
    "referred_by",
}
LEFT_OUT = "(words left out)"
_PHONE = re.compile(r"(?<!\d)\(?[2-9]\d\d\)?[-. ]?\d{3}[-. ]\d{4}(?!\d)")
_EMAIL = re.compile(r"[\w.+-]+@[\w-]+(?:\.[\w-]+)+")
_DECIMAL = re.compile(r"-?\d+\.?\d*")
# Fields and columns by what stands in them.
_NAMES = frozenset({"caller_name", "supplier_contact", "signer"})
_USERS = frozenset({"user_name", "lead", "helper", "first_lead"})
_PHONES = frozenset({"callback_number", "phone"})
_FIXED = {
    "care": "somebody needs care",
    "access": "the gate opens with 0000",
    "access_code": "0000",
    "lets_in": "somebody at the door",
    "can_sign": "somebody at the door",
    "unit_name": "1",
}
_SHORTEST = 4  # shorter parts of names are also words of the trade


def _rounded(real: str) -> str:
    """Latitude and longitude in one text; a number alone is not a place on the map."""
    parts = _DECIMAL.findall(real)
    return ", ".join(f"{float(part):.2f}" for part in parts) if len(parts) > 1 else real


class Neutral:
    """What stands for what. Ask for words in one order only: they are numbered as they come."""

    def __init__(self) -> None:
        self._words: dict[str, str] = {}
        self._users: dict[str, str] = {}
        self._count: dict[str, int] = {}
        self._pattern: re.Pattern[str] | None = None

    def person(self, user_name: str, name: str = "") -> None:
        """Somebody of the company; the name is replaced wherever it stands, the user name where one is meant."""
        number = self._next("person")
        self._users[user_name] = f"p{number:03}"
        self._name(name, f"Person {number:03}")

    def user(self, user_name: str) -> str:
        """The user name that stands for this one; the program's own, and those of nobody here, stay."""
        return self._users.get(user_name, user_name)

    def name(self, real: str) -> str:
        """A name of somebody else: a caller, a contact, a signer."""
        return self._name(real, lambda: f"Caller {self._next('caller'):03}")

    def phone(self, real: str) -> str:
        """A number of those that are kept for stories; a part of a number becomes a part of one."""
        digits = re.sub(r"\D", "", real)
        if len(digits) < 10:
            return "360-555"[: len(real)]
        return self._keep(digits[-10:], self._invented_number)

    def street(self, real: str) -> str:
        """A house and a street that are nowhere."""
        return self._keep(real, lambda: f"{100 + self._next('street')} Sample Street")

    def claim(self, real: str) -> str:
        """A claim number."""
        return self._keep(real, lambda: f"CLAIM-{self._next('claim'):03}")

    def text(self, real: str) -> str:
        """A text with every word that was replaced elsewhere, every number and every address replaced."""
        if real in self._words:
            return self._words[real]
        said = _EMAIL.sub("somebody@example.org", real)
        said = _PHONE.sub(lambda found: self.phone(found[0]), said)
        pattern = self._all_words()
        return pattern.sub(lambda found: self._words[found[0]], said) if pattern else said

    def field(self, name: str, value: Any) -> Any:
        """What stands in one named field, argument or column; what is inside it by its own names."""
        if isinstance(value, Mapping):
            return {key: self.field(key, inner) for key, inner in value.items()}
        if name == "point" and isinstance(value, list | tuple):
            return [round(float(part), 2) for part in value]
        if isinstance(value, list | tuple):
            return [self.field(name, inner) for inner in value]
        if name in {"lat", "lon"} and value not in (None, ""):
            return type(value)(round(float(value), 2))
        if not isinstance(value, str) or not value.strip():
            return value
        return self._one(name, value)

    def _one(self, name: str, value: str) -> str:
        ways: dict[str, Callable[[str], str]] = {
            **dict.fromkeys(_USERS, self.user),
            "street": self.street,
            "claim_number": self.claim,
            "drawing": lambda real: "",
            "email": lambda real: "somebody@example.org",
            "point": _rounded,
        }
        if name in FREE_TEXT:
            return LEFT_OUT
        if name in _FIXED:
            return _FIXED[name]
        if name in _NAMES:
            return self.name(value)
        if name in _PHONES:
            return self.phone(value)
        return ways.get(name, self.text)(value)

    def _name(self, real: str, neutral: str | Callable[[], str]) -> str:
        if not real.strip():
            return real
        said = self._keep(real, neutral)
        for part in real.split():
            if len(part) >= _SHORTEST and part[0].isupper():
                self._keep(part, said)
        return said

    def _keep(self, real: str, neutral: str | Callable[[], str]) -> str:
        if real not in self._words:
            self._words[real] = neutral if isinstance(neutral, str) else neutral()
            self._pattern = None
        return self._words[real]

    def _invented_number(self) -> str:
        """555-0100 to 555-0199 belong to nobody in any area."""
        number = self._next("number") - 1
        return f"{360 + number // 100}-555-01{number % 100:02}"

    def _next(self, kind: str) -> int:
        self._count[kind] = self._count.get(kind, 0) + 1
        return self._count[kind]

    def _all_words(self) -> re.Pattern[str] | None:
        if self._pattern is None and self._words:
            longest_first = sorted(self._words, key=lambda word: (-len(word), word))
            inside = "|".join(re.escape(word) for word in longest_first if len(word) >= _SHORTEST)
            self._pattern = re.compile(rf"(?<!\w)(?:{inside})(?!\w)") if inside else None
        return self._pattern
