"""Cleaning, testing, holding back, repair."""

from datetime import datetime
from uuid import UUID

from django.contrib.auth.models import User

from equipment import places
from equipment.custody import book
from equipment.custody.answers import Scan, Scanned
from equipment.custody.find import gather, uncleaned_category
from equipment.custody.writing import Write
from equipment.models import Condition, Holder, Move, UnitNow
from jobs.refusals import Refusal, Unusable
from jobs.use_case import use_case

# What must be done before a unit is ready again, in the order in which it is done (the trade's usual order).
STEPS: dict[str, tuple[str, ...]] = {
    Condition.NOT_YET_CLEANED: ("cleaned", "tested"),
    Condition.HELD_BACK: ("decontaminated", "filter_changed", "tested"),
    Condition.BROKEN: ("repaired", "tested"),
    Condition.IN_USE: ("cleaned", "tested"),
    Condition.READY: (),
}
WORDS = {
    "cleaned": "cleaned",
    "tested": "tested",
    "decontaminated": "decontaminated",
    "filter_changed": "filter changed",
    "repaired": "repaired",
}


class StepsMissing(Refusal):
    """The unit is not ready before everything that its state asks for was done."""

    code = "steps_missing"


class StillAtJob(Refusal):
    """A unit at a job cannot be cleaned and tested there."""

    code = "still_at_a_job"


def steps_for(row: UnitNow) -> tuple[str, ...]:
    """What must be done to this unit before it is ready."""
    if row.condition != Condition.READY and uncleaned_category(row) == 3:
        repaired = ("repaired",) if row.condition == Condition.BROKEN else ()
        return (*repaired, *STEPS[Condition.HELD_BACK])
    return STEPS[row.condition]


@use_case("set_condition")
def set_condition(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    numbers: tuple[str, ...],
    condition: str,
    steps: tuple[str, ...] = (),
    note: str = "",
    hour_meters: tuple[tuple[str, float], ...] = (),
    in_repair: bool = False,
    happened_at: datetime | None = None,
) -> Scanned:
    """
    Say how units are. `ready` needs every step that the unit's state asks for (`STEPS`); the others are facts.

    `in_repair` gives a broken unit to the repairer; otherwise it stays where it is.

    :raises StepsMissing: if a unit would be called ready before all of its steps.
    :raises StillAtJob: if a unit would be called ready while the record has it at a job.
    :raises Unusable: if the condition or a step is none of ours.
    """
    if condition not in Condition.values or condition == Condition.IN_USE:
        raise Unusable(f"{condition!r} is no condition to set. Use one of: ready, not_yet_cleaned, held_back, broken.")
    if unknown := [step for step in steps if step not in WORDS]:
        raise Unusable(f"{unknown[0]!r} is no step. Use: {', '.join(WORDS)}.", where="steps")
    write, meters, scans = Write.of(key, actor, now, happened_at), dict(hour_meters), []
    for row in gather(numbers, where_they_are=True).rows:
        if condition == Condition.READY:
            _check_steps(row, steps)
        to = row.holder
        if in_repair and condition == Condition.BROKEN:
            to = places.holder_for(Holder.Kind.REPAIR, area_id=row.holder.area_id)
        category = None if condition == Condition.READY else uncleaned_category(row)
        if condition == Condition.HELD_BACK:
            category = 3
        after = book.After(to, condition, row.room_name, None, category)
        said = "; ".join([WORDS[step] for step in steps] + ([note] if note else []))
        why = Move.Why.REPAIR if to.pk != row.holder_id else Move.Why.CONDITION
        move = book.record(row, why, after, write, note=said, hour_meter=meters.get(row.unit.number))
        scans.append(
            Scan(row.unit.number, row.unit.model.name, condition, f"now {Condition(condition).label}", move.pk)
        )
    return Scanned(tuple(scans))


def _check_steps(row: UnitNow, done: tuple[str, ...]) -> None:
    if row.holder.kind == Holder.Kind.JOB:
        raise StillAtJob(
            f"Number {row.unit.number} stands at job {row.holder}. Scan it in at a warehouse first.", where="numbers"
        )
    if missing := [step for step in steps_for(row) if step not in done]:
        raise StepsMissing(
            f"Number {row.unit.number} is {row.get_condition_display()}. Still to do: "
            f"{', '.join(WORDS[step] for step in missing)}. Do that, then call it ready.",
            where="steps",
            number=row.unit.number,
            missing=missing,
        )
