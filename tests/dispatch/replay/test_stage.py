"""A watched replay: its clock runs at a speed, stops when held, waits for each step, and cuts silences short."""

import threading
from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Any

from dispatch.replay.scenario import Step
from dispatch.replay.stage import LONGEST_WAIT_S, SPEEDS, Player

SIX = datetime.fromisoformat("2026-01-15T18:00:00-08:00")


class Watch:
    """A clock that stands until it is moved."""

    seconds = 0.0

    def __call__(self) -> float:
        return self.seconds


def steps(*minutes: int) -> list[Step]:
    return [Step(at=SIX + timedelta(minutes=m), who="ebbline", do="look") for m in minutes]


def lines(count: int) -> Iterator[dict[str, Any]]:
    return iter([{"step": n, "failed": []} for n in range(count)])


def test_the_clock_runs_at_its_speed_and_stops_when_it_is_held() -> None:
    watch = Watch()
    player = Player(steps(0, 60, 120), speed=60, clock_s=watch)
    player._lines.append({"step": 0, "failed": []})
    watch.seconds = 10
    assert player.now() == SIX + timedelta(minutes=10)
    player.hold()
    watch.seconds = 500
    assert player.now() == SIX + timedelta(minutes=10)
    player.hold()
    watch.seconds = 510
    player.faster()
    assert (player.speed, player.now()) == (120, SIX + timedelta(minutes=20))
    watch.seconds = 520
    assert player.now() == SIX + timedelta(minutes=40)
    watch.seconds = 1000
    assert player.now() == SIX + timedelta(minutes=60), "never past a step that was not done"
    for _ in SPEEDS:
        player.slower()
    assert player.speed == 1


def test_next_does_each_step_at_once_while_the_clock_is_held() -> None:
    player = Player(steps(0, 60, 120), speed=1)
    player.hold()
    thread = threading.Thread(target=player.run, args=(lines(3),))
    thread.start()
    for _ in range(3):
        player.next()
    thread.join(timeout=20)
    assert not thread.is_alive()
    stage = player.stage()
    assert (stage.count, stage.over, stage.failed) == (3, True, 0)
    assert [line["step"] for line in stage.done] == [2, 1, 0]
    assert stage.now == SIX + timedelta(minutes=120)


def test_a_long_silence_is_cut_short() -> None:
    watch = Watch()
    player = Player(steps(0, 600), speed=60, clock_s=watch)
    player._lines.append({"step": 0, "failed": []})
    player._cut_short(player.steps[1].at)
    assert player.steps[1].at - player.now() == timedelta(seconds=60 * LONGEST_WAIT_S)
