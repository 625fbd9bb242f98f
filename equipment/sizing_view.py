"""A sizing report as it is shown: figures in words with their units, and behind each the sum and its source."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

from equipment.sizing.report import ChamberReport, Dehumidification, Notice, Power, Report, Short
from equipment.sizing.wording import counted, plain
from equipment.sizing_places import place_in_words, unit_of

KINDS = {
    "conventional": "conventional dehumidifier",
    "lgr": "low-grain dehumidifier",
    "desiccant": "desiccant dehumidifier",
    "air_mover": "air mover",
    "air_scrubber": "air filtration device",
    "cavity_kit": "wall-cavity kit",
    "floor_mat_kit": "floor-mat kit",
    "heater": "heater",
}


@dataclass(frozen=True)
class Figure:
    """One figure with its unit, and what lies behind it in a few words."""

    what: str
    figure: str
    why: str = ""


@dataclass(frozen=True)
class ChamberView:
    """One drying chamber and the air movers of its rooms."""

    name: str
    figures: tuple[Figure, ...]
    rooms: tuple[Figure, ...]


@dataclass(frozen=True)
class MixLine:
    """So many of one model, where, and why."""

    count: int
    model: str
    kind: str
    place: str
    why: str


@dataclass(frozen=True)
class NoticeLine:
    """A refusal or a caution, with the place it is about."""

    place: str
    message: str
    source: str


@dataclass(frozen=True)
class WorkingLine:
    """The sum behind one figure."""

    what: str
    sum: str
    unit: str
    source: str


@dataclass(frozen=True)
class SizingView:
    """Everything that a sizing report says."""

    rules: str
    chambers: tuple[ChamberView, ...]
    whole: tuple[Figure, ...]
    mix: tuple[MixLine, ...]
    short: tuple[Figure, ...]
    power: tuple[Figure, ...]
    refusals: tuple[NoticeLine, ...]
    cautions: tuple[NoticeLine, ...]
    working: tuple[WorkingLine, ...]


def sizing_view(report: Report) -> SizingView:
    """The report in the words of the rooms."""
    return SizingView(
        report.rules,
        tuple(
            ChamberView(chamber.name, tuple(_of_chamber(chamber)), tuple(_rooms(chamber)))
            for chamber in report.chambers
        ),
        tuple(_whole(report)),
        tuple(
            MixLine(row.count, row.model, KINDS.get(row.kind, row.kind), row.chamber or "whole loss", row.why)
            for row in report.mix
        ),
        tuple(_short(row) for row in report.short),
        tuple(_power(report.power)),
        _notices(report.refusals, report),
        _notices(report.cautions, report),
        tuple(
            WorkingLine(place_in_words(row.where, report), row.sum, unit_of(row.where), row.source)
            for row in report.working
        ),
    )


def one_decimal(number: Fraction | float | int) -> str:
    """A figure as it is read at a glance; the working has the other decimals."""
    return plain(round(Fraction(number), 1))


def _of_chamber(chamber: ChamberReport) -> Iterator[Figure]:
    yield Figure("Class of water", str(chamber.class_), f"{chamber.class_from}; {_percent(chamber.wet_share)} wet")
    yield Figure(
        "Volume", f"{one_decimal(chamber.volume_cuft)} cu ft",
        f"{one_decimal(chamber.wet_sqft)} of {one_decimal(chamber.surface_sqft)} sq ft of surface wet",
    )  # fmt: skip
    if chamber.air is not None:
        air = chamber.air
        yield Figure(
            "Air", f"{air.gpp:.1f} grains/lb",
            f"dew point {air.dew_point_f:.1f} °F, vapor pressure {air.vapor_pressure_inhg:.3f} in Hg",
        )  # fmt: skip
    yield _dehumidification(chamber.dehumidification)
    movers = chamber.air_movers
    yield Figure("Air movers", f"{movers.planned} planned", f"{movers.low} to {movers.high} by the rule")
    days = chamber.drying_days
    if days.high:
        slowest = f", slowest: {days.slowest.replace('_', ' ')}" if days.slowest else ""
        span = f"{one_decimal(days.low)} to {one_decimal(days.high)} days"
        yield Figure("Time to dry", span, f"likely {one_decimal(days.likely)}{slowest}")


def _dehumidification(need: Dehumidification | None) -> Figure:
    if need is None:
        return Figure("Dehumidification", "refused", "see what is refused")
    kind = KINDS.get(need.kind, need.kind)
    if need.pints_per_day is None:
        changes = f"{plain(need.factor)} air changes an hour"
        return Figure(
            "Dehumidification", f"{one_decimal(need.process_cfm or 0)} cfm of process air", f"{kind}; {changes}"
        )
    real = need.derated_pints_per_day
    behind = f"; about {one_decimal(real)} pints/day in this air" if real is not None else ""
    return Figure("Dehumidification", f"{one_decimal(need.pints_per_day)} pints/day, rated", kind + behind)


def _rooms(chamber: ChamberReport) -> Iterator[Figure]:
    for room in chamber.rooms:
        movers = room.air_movers
        yield Figure(room.name, counted(movers.planned, "air mover"), f"{movers.low} to {movers.high}")


def _whole(report: Report) -> Iterator[Figure]:
    air = report.air_filtration
    if air is not None:
        why = f"{plain(air.changes_per_hour)} changes an hour: {air.why}"
        yield Figure("Air filtration", f"{one_decimal(air.cfm)} cfm", why)
    cavities = report.wall_cavities
    if cavities.runs:
        yield Figure("Wall cavities", counted(cavities.outlets, "outlet"), counted(cavities.kits, "kit"))
    for run in cavities.runs:
        mode = f"{run.mode} pressure" if run.mode else "refused"
        yield Figure(f"Wall run, {run.room}", counted(run.outlets, "outlet"), f"{plain(run.length_ft)} ft, {mode}")
    floors = report.wood_floors
    if floors.wet_sqft:
        yield Figure("Wet wood floor", f"{one_decimal(floors.wet_sqft)} sq ft", counted(floors.kits, "mat kit"))


def _short(row: Short) -> Figure:
    unit = "units" if row.unit == "count" else row.unit.replace("pints_per_day", "pints/day")
    kind = KINDS.get(row.kind, row.kind)
    place = row.chamber or "whole loss"
    return Figure(f"{kind}, {place}", f"{one_decimal(row.found)} of {one_decimal(row.wanted)} {unit}", row.why)


def _power(power: Power) -> Iterator[Figure]:
    total = "running, at 120 V" if power.circuits else "ask which circuits may be used"
    yield Figure("In all", f"{one_decimal(power.total_a)} A", total)
    for load in power.circuits:
        units = _counted_models(load.units)
        used = f"{one_decimal(load.used_a)} of {one_decimal(load.limit_a)} A"
        yield Figure(f"Circuit {load.circuit + 1}", used, units or "nothing on it")
    if power.unplaced:
        yield Figure("No circuit for", counted(sum(power.unplaced.values()), "unit"), _counted_models(power.unplaced))
    if not power.proven:
        yield Figure("Placing", "not proven best", "the cautions say how far from it this may be")


def _counted_models(units: Mapping[str, int]) -> str:
    return ", ".join(f"{count} x {model}" for model, count in units.items())


def _percent(share: Fraction) -> str:
    return f"{one_decimal(share * 100)} %"


def _notices(notices: tuple[Notice, ...], report: Report) -> tuple[NoticeLine, ...]:
    return tuple(NoticeLine(place_in_words(row.where, report), row.message, row.source) for row in notices)
