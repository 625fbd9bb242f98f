"""
A made-up town of a few straight streets, written as OpenStreetMap PBF, so that a real routing engine can be asked.

The format is that of the OpenStreetMap wiki's "PBF Format" page: length-prefixed protocol buffer blobs. Nothing in it
is real map data.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise
from pathlib import Path

LAT, LON = 45.5, -122.6
STEP_DEG = 0.005
SIDE = 7
# Blobs are coordinates in units of 100 nanodegrees.
UNIT = 10_000_000


def street_corner(i: int, k: int) -> tuple[float, float]:
    """Latitude and longitude of a corner of the grid."""
    return LAT + i * STEP_DEG, LON + k * STEP_DEG


def write_town(path: Path) -> None:
    """A square grid of residential two-way streets."""
    nodes = b"".join(_field(1, _node(i, k)) for i in range(SIDE) for k in range(SIDE))
    rows = [[_id(i, k) for k in range(SIDE)] for i in range(SIDE)]
    columns = [[_id(i, k) for i in range(SIDE)] for k in range(SIDE)]
    ways = b"".join(_field(3, _way(1 + n, refs)) for n, refs in enumerate(rows + columns))
    header = _field(4, b"OsmSchema-V0.6") + _field(4, b"DenseNodes")
    strings = b"".join(_field(1, s) for s in (b"", b"highway", b"residential"))
    data = [_field(1, strings) + _field(2, group) for group in (nodes, ways)]
    path.write_bytes(_blob(b"OSMHeader", header) + b"".join(_blob(b"OSMData", block) for block in data))


def _id(i: int, k: int) -> int:
    return 1 + i * SIDE + k


def _node(i: int, k: int) -> bytes:
    lat, lon = street_corner(i, k)
    return (
        _number(1, _zigzag(_id(i, k))) + _number(8, _zigzag(round(lat * UNIT))) + _number(9, _zigzag(round(lon * UNIT)))
    )


def _way(name: int, refs: list[int]) -> bytes:
    steps = [refs[0], *(b - a for a, b in pairwise(refs))]
    return _number(1, name) + _packed(2, [1]) + _packed(3, [2]) + _packed(8, [_zigzag(s) for s in steps])


def _blob(kind: bytes, block: bytes) -> bytes:
    blob = _field(1, block)
    header = _field(1, kind) + _number(3, len(blob))
    return len(header).to_bytes(4, "big") + header + blob


def _varint(value: int) -> bytes:
    out = bytearray()
    while value > 0x7F:
        out.append(value & 0x7F | 0x80)
        value >>= 7
    out.append(value)
    return bytes(out)


def _zigzag(value: int) -> int:
    return 2 * value if value >= 0 else -2 * value - 1


def _number(key: int, value: int) -> bytes:
    return _varint(key << 3) + _varint(value)


def _field(key: int, content: bytes) -> bytes:
    return _varint(key << 3 | 2) + _varint(len(content)) + content


def _packed(key: int, values: Iterable[int]) -> bytes:
    return _field(key, b"".join(_varint(v) for v in values))
