"""The power plan at a stop: the lead's circuits, the units on them, and what is over the line."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from uuid import UUID

from django.contrib.auth.models import User

from equipment.models import PowerPlan, UnitNow
from equipment.sizing import stop_power
from equipment.sizing.rule_set import chosen_rules
from equipment.sizing.stop_power import GivenCircuit, RunningUnit
from jobs import journal
from jobs.circuits import keep_circuits
from jobs.happened import when
from jobs.refusals import Unusable
from jobs.use_case import use_case
from jobs.visits import locked_job

MOST_CIRCUITS = 40
_CIRCUIT = re.compile(r"(?P<name>.*?)\s*(?P<breaker>\d+(?:\.\d+)?)\s*[Aa]?\s*(?:\(\s*(?P<used>\d+(?:\.\d+)?)[^)]*\))?")


@dataclass(frozen=True)
class PlanCircuit:
    """A circuit as it was typed, in amps."""

    name: str
    breaker_a: float
    reserved_a: float = 0


@dataclass(frozen=True)
class CircuitShown:
    """What stands on one circuit, in amps; `over_a` is by how much it is over the line."""

    name: str
    breaker_a: float
    reserved_a: float
    limit_a: float
    used_a: float
    over_a: float
    numbers: tuple[str, ...]
    suggested: tuple[str, ...]


@dataclass(frozen=True)
class PowerShown:
    """A power plan with the units as they stand now: `without` have no circuit in it."""

    plan_id: int
    circuits: tuple[CircuitShown, ...]
    without: tuple[str, ...]
    share: float
    share_source: str
    made_at: datetime
    recorded_at: datetime
    by: str
    warnings: tuple[str, ...]


@use_case("keep_power_plan")
def keep_power_plan(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    job_id: int,
    circuits: tuple[PlanCircuit, ...],
    places: tuple[tuple[str, int], ...] = (),
    visit_id: int | None = None,
    happened_at: datetime | None = None,
) -> PowerShown:
    """
    Keep which unit stands on which circuit: `places` = (unit number, circuit from 1). Without places the suggestion is
    kept. A circuit over its line is warned of, never refused; the suggestion stays beside it. The circuits also become
    those with which the job is sized.

    :raises Unusable: for a circuit that cannot be, or a place on none.
    """
    job, at = locked_job(job_id), when(happened_at, now)
    given = _given(circuits)
    units = units_at(job_id)
    rule = chosen_rules(None).power.continuous_share
    suggested = stop_power.suggest(units, given, rule.value)
    placed = {number: index - 1 for number, index in places} or suggested
    for number, index in placed.items():
        if not 0 <= index < len(given):
            raise Unusable(f"There are circuits 1 to {len(given)}. Unit {number} needs one.", where=f"w_{number}")
    row = PowerPlan.objects.create(
        key=key,
        job=job,
        visit_id=visit_id,
        circuits=[
            {"name": each.name, "breaker_a": float(each.breaker_a), "reserved_a": float(each.reserved_a)}
            for each in given
        ],
        units=[{"number": unit.number, "model": unit.model, "amps": str(unit.amps)} for unit in units],
        places=placed,
        suggested=suggested,
        share=str(rule.value),
        share_source=rule.source,
        made_at=at,
        recorded_at=now,
        made_by=actor,
    )
    keep_circuits(job, [(float(each.breaker_a), float(each.reserved_a)) for each in given])
    shown = _shown(row, units)
    over = sum(circuit.over_a > 0 for circuit in shown.circuits)
    data = {"plan": row.pk, "circuits": len(given), "over": over}
    journal.note(kind="power_plan_kept", actor=actor, now=now, job=job, happened_at=at, data=data)
    return shown


def typed_circuits(text: str) -> tuple[PlanCircuit, ...]:
    """
    Circuits as they are typed: `Kitchen 15, Hall 20 (6), 20`; amps in use stand in brackets.

    :raises Unusable: if one has no breaker.
    """
    found: list[PlanCircuit] = []
    for part in re.split(r"[,;\n]", text):
        if not part.strip():
            continue
        read = _CIRCUIT.fullmatch(part.strip())
        if read is None:
            wanted = "Write each circuit with its breaker in amps, commas between: Kitchen 15, Hall 20 (6)."
            raise Unusable(f"{part.strip()!r} is no circuit. {wanted}", where="circuits")
        name = read["name"].strip() or f"Circuit {len(found) + 1}"
        found.append(PlanCircuit(name[:40], float(read["breaker"]), float(read["used"] or 0)))
    return tuple(found)


def units_at(job_id: int) -> tuple[RunningUnit, ...]:
    """The units that stand at the job and draw current, by number (1 query)."""
    rows = UnitNow.objects.filter(holder__job_id=job_id, unit__model__running_a__gt=0).order_by("unit__number")
    return tuple(
        RunningUnit(number, model, Fraction(str(amps)))
        for number, model, amps in rows.values_list("unit__number", "unit__model__name", "unit__model__running_a")
    )


def power_at(job_id: int, units: Sequence[RunningUnit] | None = None) -> PowerShown | None:
    """The job's newest power plan with the units that stand there now (2 queries), or None."""
    row = PowerPlan.objects.filter(job_id=job_id).select_related("made_by").order_by("-made_at", "-pk").first()
    return None if row is None else _shown(row, units_at(job_id) if units is None else units)


def power_plans_of(job_id: int) -> tuple[PowerShown, ...]:
    """All power plans of the job in order of time, each with the units that stood there then (1 query)."""
    rows = PowerPlan.objects.filter(job_id=job_id).select_related("made_by").order_by("made_at", "pk")
    return tuple(_shown(row, _units_of(row)) for row in rows)


def _given(circuits: Sequence[PlanCircuit]) -> tuple[GivenCircuit, ...]:
    if not 1 <= len(circuits) <= MOST_CIRCUITS:
        raise Unusable(f"Type the circuits you may use, from 1 to {MOST_CIRCUITS}: Kitchen 15, 20.", where="circuits")
    given = []
    for each in circuits:
        if not 0 < each.breaker_a <= 100 or not 0 <= each.reserved_a <= each.breaker_a:
            raise Unusable(
                f"{each.name}: a breaker has up to 100 amps, and no more of them in use than it has.", where="circuits"
            )
        given.append(GivenCircuit(each.name[:40], Fraction(str(each.breaker_a)), Fraction(str(each.reserved_a))))
    return tuple(given)


def _units_of(row: PowerPlan) -> tuple[RunningUnit, ...]:
    return tuple(RunningUnit(each["number"], each["model"], Fraction(each["amps"])) for each in row.units)


def _shown(row: PowerPlan, units: Sequence[RunningUnit]) -> PowerShown:
    given = tuple(
        GivenCircuit(each["name"], Fraction(str(each["breaker_a"])), Fraction(str(each["reserved_a"])))
        for each in row.circuits
    )
    share = Fraction(row.share)
    checked = stop_power.check(units, given, row.places, share)
    suggested: Mapping[str, int] = row.suggested
    circuits = tuple(
        CircuitShown(
            use.name,
            float(use.breaker_a),
            float(circuit.reserved_a),
            float(use.limit_a),
            float(use.used_a),
            float(use.over_a),
            use.numbers,
            tuple(number for number, at in suggested.items() if at == index),
        )
        for index, (use, circuit) in enumerate(zip(checked.circuits, given, strict=True))
    )
    warnings = [
        f"{use.name}: {float(use.used_a):g} A, the line for hours is {float(use.limit_a):g} A. Move a unit."
        for use in checked.over
    ]
    if checked.without:
        warnings.append(f"On no circuit: {', '.join(checked.without)}. Find another circuit, or a generator.")
    by = row.made_by.get_full_name() or row.made_by.get_username()
    return PowerShown(
        row.pk,
        circuits,
        checked.without,
        float(share),
        row.share_source,
        row.made_at,
        row.recorded_at,
        by,
        tuple(warnings),
    )
