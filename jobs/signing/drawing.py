"""A signature as strokes: SVG path data of moves and lines in whole points, in a box of 600 by 200."""

import re

BOX = (600, 200)
MOST_LETTERS = 60_000
# A tap leaves a dot; a name leaves dozens of points.
FEWEST_POINTS = 8
_PATH = re.compile(r"M\d{1,3} \d{1,3}(?:L\d{1,3} \d{1,3})*(?:M\d{1,3} \d{1,3}(?:L\d{1,3} \d{1,3})*)*")
_POINT = re.compile(r"([ML])(\d{1,3}) (\d{1,3})")


def strokes(path: str) -> tuple[tuple[tuple[int, int], ...], ...]:
    """
    The strokes of a drawing, each as its points.

    :raises ValueError: if it is no drawing inside the box.
    """
    if len(path) > MOST_LETTERS or not _PATH.fullmatch(path):
        raise ValueError("not a drawing of moves and lines")
    found: list[list[tuple[int, int]]] = []
    for step, x, y in _POINT.findall(path):
        point = int(x), int(y)
        if point[0] > BOX[0] or point[1] > BOX[1]:
            raise ValueError(f"{point} lies outside the box of {BOX}")
        if step == "M":
            found.append([])
        found[-1].append(point)
    return tuple(tuple(stroke) for stroke in found)


def is_written(path: str) -> bool:
    """Whether the drawing has enough in it to be somebody's hand rather than a slip of the finger."""
    return sum(map(len, strokes(path))) >= FEWEST_POINTS
