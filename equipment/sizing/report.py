"""The sizing report: frozen dataclasses whose fields are the keys of the port, and their JSON."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field, fields, is_dataclass
from fractions import Fraction
from typing import Any, Literal

from equipment.sizing.wording import bare

FORMAT = 1
# Python names that a keyword or a habit keeps from being the port's key.
KEYS = {"class_": "class"}


@dataclass(frozen=True)
class Row:
    """One figure of the report with the sum that made it and where its rule comes from."""

    where: str
    sum: str
    source: str


@dataclass(frozen=True)
class Notice:
    """A refusal, which stops one part of the sizing, or a caution, which informs."""

    code: str
    where: str
    message: str
    source: str


@dataclass(frozen=True)
class AirFigures:
    gpp: float
    dew_point_f: float
    vapor_pressure_inhg: float


@dataclass(frozen=True)
class Dehumidification:
    """Rated capacity wanted: pints a day, or process cfm for a desiccant."""

    kind: str
    pints_per_day: Fraction | None
    process_cfm: Fraction | None
    factor: Fraction
    derated_pints_per_day: float | None


@dataclass(frozen=True)
class MoverCounts:
    low: int
    high: int
    planned: int


@dataclass(frozen=True)
class RoomReport:
    name: str
    air_movers: MoverCounts


@dataclass(frozen=True)
class DryingDays:
    low: float
    likely: float
    high: float
    slowest: str | None


@dataclass(frozen=True)
class ChamberReport:
    name: str
    volume_cuft: Fraction
    surface_sqft: Fraction
    wet_sqft: Fraction
    wet_share: Fraction
    class_: int
    class_from: Literal["set", "worked out"]
    air: AirFigures | None
    dehumidification: Dehumidification | None
    air_movers: MoverCounts
    rooms: tuple[RoomReport, ...]
    drying_days: DryingDays


@dataclass(frozen=True)
class AirFiltration:
    cfm: Fraction
    changes_per_hour: Fraction
    why: str


@dataclass(frozen=True)
class CavityRun:
    room: str
    length_ft: Fraction
    outlets: int
    mode: str | None


@dataclass(frozen=True)
class WallCavities:
    outlets: int
    kits: int
    runs: tuple[CavityRun, ...]


@dataclass(frozen=True)
class WoodFloors:
    wet_sqft: Fraction
    kits: int


@dataclass(frozen=True)
class MixRow:
    chamber: str | None
    model: str
    kind: str
    count: int
    why: str


@dataclass(frozen=True)
class Short:
    chamber: str | None
    kind: str
    unit: str
    wanted: Fraction
    found: Fraction
    why: str


@dataclass(frozen=True)
class CircuitLoad:
    circuit: int
    limit_a: Fraction
    used_a: Fraction
    units: Mapping[str, int]


@dataclass(frozen=True)
class Power:
    total_a: Fraction
    circuits: tuple[CircuitLoad, ...]
    unplaced: Mapping[str, int]
    proven: bool


@dataclass(frozen=True)
class Report:
    """The answer to a loss, in the order in which it is written."""

    rules: str
    chambers: tuple[ChamberReport, ...]
    air_filtration: AirFiltration | None
    wall_cavities: WallCavities
    wood_floors: WoodFloors
    mix: tuple[MixRow, ...]
    short: tuple[Short, ...]
    power: Power
    refusals: tuple[Notice, ...]
    cautions: tuple[Notice, ...]
    working: tuple[Row, ...]
    format: int = field(default=FORMAT)

    def as_document(self) -> dict[str, Any]:
        """Plain lists, dicts and bare numbers under the port's keys."""
        document: dict[str, Any] = {"format": self.format}
        document |= {each.name: _plain(getattr(self, each.name)) for each in fields(self) if each.name != "format"}
        return document

    def as_json(self) -> str:
        """Same report, same text: keys in a fixed order, on one line."""
        return json.dumps(self.as_document(), ensure_ascii=False, allow_nan=False) + "\n"


def _plain(value: Any) -> Any:
    if isinstance(value, Dehumidification):
        wanted = (
            {"process_cfm": _plain(value.process_cfm)}
            if value.pints_per_day is None
            else {"pints_per_day": _plain(value.pints_per_day)}
        )
        derated = _plain(value.derated_pints_per_day)
        return {"kind": value.kind, **wanted, "factor": _plain(value.factor), "derated_pints_per_day": derated}
    if is_dataclass(value):
        return {KEYS.get(each.name, each.name): _plain(getattr(value, each.name)) for each in fields(value)}
    if isinstance(value, tuple):
        return [_plain(each) for each in value]
    if isinstance(value, Mapping):
        return {key: _plain(each) for key, each in value.items()}
    if isinstance(value, Fraction | float):
        return bare(value)
    return value
