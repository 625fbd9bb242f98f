"""What happened in one rehearsal, event by event; measures are made of these rows alone."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True)
class Seen:
    """One visit that was made."""

    task: str
    job: int
    kind: str
    crew: str
    due_s: int
    left_s: int
    arrive_s: int
    leave_s: int


@dataclass(frozen=True)
class Short:
    """Machines that were missing at a first visit."""

    job: int
    at_s: int
    kind: str
    count: int


@dataclass(frozen=True)
class Worked:
    """One crew's day."""

    crew: str
    from_s: int
    end_s: int
    driving_s: int
    overtime_s: int


@dataclass
class Log:
    """All rows of a run; ``still_open`` are the visits that nobody made, with when they were promised."""

    seen: list[Seen] = field(default_factory=list)
    short: list[Short] = field(default_factory=list)
    worked: list[Worked] = field(default_factory=list)
    stayed_home: int = 0
    dry: dict[int, float] = field(default_factory=dict)
    """Days from the first machine to the reading that found it dry, by job."""
    still_open: list[tuple[str, int, str, int]] = field(default_factory=list)
    """Task, job, kind and when it was promised."""
    callers: dict[int, int] = field(default_factory=dict)
    """When each job's call came in."""
