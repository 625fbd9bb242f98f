"""The one way an input is turned away before any work is done."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class LossRefused(Exception):
    """
    The loss, as given, cannot be sized.

    ``code`` is stable, ``where`` is the path of the value (``chambers[0].rooms[1].height_ft``), ``message`` says what
    is wrong and what would be right.
    """

    code: str
    where: str
    message: str

    def __str__(self) -> str:
        return f"{self.where}: {self.message}"

    def as_document(self) -> dict[str, str]:
        return {"code": self.code, "where": self.where, "message": self.message}


def path_of(steps: tuple[int | str, ...]) -> str:
    """``("chambers", 0, "name")`` as ``chambers[0].name``."""
    path = ""
    for step in steps:
        if isinstance(step, int):
            path += f"[{step}]"
        else:
            path += f".{step}" if path else step
    return path
