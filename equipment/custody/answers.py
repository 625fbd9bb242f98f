"""What a scan answers."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Scan:
    """
    One unit: `word` is stable (`loaded`, `equivalent`, `not_on_list`, `already_there`, `back`, `held_back`, `placed`,
    `taken_up`, `moved`, `undone`, ...), `said` is the sentence for people, `caution` says what to look after.
    """

    number: str
    model: str
    word: str
    said: str
    move_id: int | None = None
    line_id: int | None = None
    caution: str = ""


@dataclass(frozen=True)
class Scanned:
    """All units of one call, in the order in which they were given."""

    scans: tuple[Scan, ...]
    discrepancies: int = 0
