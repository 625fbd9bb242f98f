"""One broken rule of a plan."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Violation:
    """The rule's ``code``, the crew and visit it concerns (null where none), and a message with the amount."""

    code: str
    crew: str | None
    visit: str | None
    message: str

    def as_json(self) -> dict[str, str | None]:
        return {"code": self.code, "crew": self.crew, "visit": self.visit, "message": self.message}
