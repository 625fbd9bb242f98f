"""Drawings of signatures: read back stroke by stroke; anything else is refused."""

import random

import pytest

from jobs.signing.drawing import BOX, is_written, strokes


def written(drawing: list[list[tuple[int, int]]]) -> str:
    return "".join(f"{'L' if n else 'M'}{x} {y}" for stroke in drawing for n, (x, y) in enumerate(stroke))


@pytest.mark.parametrize("seed", range(40))
def test_strokes_are_read_back(seed: int) -> None:
    some = random.Random(seed)
    drawing = [
        [(some.randint(0, BOX[0]), some.randint(0, BOX[1])) for _ in range(some.randint(1, 6))]
        for _ in range(some.randint(1, 5))
    ]
    assert strokes(written(drawing)) == tuple(map(tuple, drawing))
    assert is_written(written(drawing)) == (sum(map(len, drawing)) >= 8)


@pytest.mark.parametrize(
    "text",
    ["", "L1 1", "M1", "M601 1", "M1 201", "M1 1<script>", "M1 1 L2 2", "M-1 1", "M1 1\nL2 2", "M1 1" * 20_000],
)
def test_what_is_no_drawing_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"drawing|outside"):
        strokes(text)
