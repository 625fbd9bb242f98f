"""A replay that is watched: its clock runs at a chosen speed, and somebody holds it, moves it on or makes it faster."""

import threading
import time as real
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from dispatch.replay.scenario import Step

SPEEDS = (1, 10, 30, 60, 120, 300, 600, 1800, 3600)  # seconds of the night in one second
LONGEST_WAIT_S = 8.0  # a silence between two steps that lasts longer than this, as it is watched, is cut short


@dataclass(frozen=True)
class Stage:
    """What is on: the step that runs next, those that were done (newest first), and how the clock runs."""

    now: datetime
    done: tuple[dict[str, Any], ...]
    coming: tuple[tuple[int, Step], ...]
    count: int
    steps: int
    speed: int
    held: bool
    running: bool
    failed: int

    @property
    def over(self) -> bool:
        """Whether every step was done."""
        return not self.coming and not self.running


@dataclass
class Player:
    """Runs the lines of a replay by its own clock. Every method may be called from any thread."""

    steps: Sequence[Step]
    speed: int = 60
    clock_s: Callable[[], float] = real.monotonic
    _from: datetime = field(init=False)
    _since_s: float = field(init=False)
    _held: bool = field(default=False, init=False)
    _running: bool = field(default=False, init=False)
    _asked: int = field(default=0, init=False)
    _lines: list[dict[str, Any]] = field(default_factory=list, init=False)
    _changed: threading.Condition = field(default_factory=threading.Condition, init=False)

    def __post_init__(self) -> None:
        self._from, self._since_s = self.steps[0].at, self.clock_s()

    def run(self, lines: Iterator[dict[str, Any]]) -> None:
        """Do step after step, each when its time has come; returns when all were done."""
        for number, step in enumerate(self.steps):
            self._wait_for(step.at)
            with self._changed:
                self._running = True
            line = next(lines)
            with self._changed:
                self._lines.append(line)
                self._running = False
                self._set(max(step.at, self._time()) if number else step.at)

    def now(self) -> datetime:
        """The night's time: it never passes the next step before that was done."""
        with self._changed:
            return self._time()

    def stage(self) -> Stage:
        """Everything that the page shows."""
        with self._changed:
            at = len(self._lines)
            return Stage(
                now=self._time(),
                done=tuple(reversed(self._lines[-12:])),
                coming=tuple((number, self.steps[number]) for number in range(at, min(at + 4, len(self.steps)))),
                count=at,
                steps=len(self.steps),
                speed=self.speed,
                held=self._held,
                running=self._running,
                failed=sum(1 for line in self._lines if line["failed"]),
            )

    def hold(self) -> None:
        """Stop the clock, or let it run again."""
        with self._changed:
            self._set(self._time())
            self._held = not self._held
            self._changed.notify_all()

    def next(self) -> None:
        """Go to the next step at once, also while the clock is stopped."""
        with self._changed:
            if len(self._lines) + self._asked < len(self.steps):
                self._asked += 1
            self._changed.notify_all()

    def faster(self) -> None:
        """One step up the ladder of speeds."""
        self._change(next((speed for speed in SPEEDS if speed > self.speed), SPEEDS[-1]))

    def slower(self) -> None:
        """One step down the ladder of speeds."""
        self._change(next((speed for speed in reversed(SPEEDS) if speed < self.speed), SPEEDS[0]))

    def _change(self, speed: int) -> None:
        with self._changed:
            self._set(self._time())
            self.speed = speed
            self._changed.notify_all()

    def _wait_for(self, at: datetime) -> None:
        with self._changed:
            self._cut_short(at)
            while not self._asked and self._time() < at:
                left_s = (at - self._time()).total_seconds() / self.speed
                self._changed.wait(None if self._held else min(max(left_s, 0.01), 1.0))
            if self._asked:
                self._asked -= 1
                self._set(at)

    def _cut_short(self, at: datetime) -> None:
        longest = timedelta(seconds=LONGEST_WAIT_S * self.speed)
        if at - self._time() > longest:
            self._set(at - longest)

    def _set(self, now: datetime) -> None:
        self._from, self._since_s = now, self.clock_s()

    def _time(self) -> datetime:
        gone = 0.0 if self._held or self._running else (self.clock_s() - self._since_s) * self.speed
        now, at = self._from + timedelta(seconds=gone), len(self._lines)
        return min(now, max(self.steps[at].at, self._from)) if at < len(self.steps) else now
