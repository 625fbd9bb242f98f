"""Category of the water and class of a chamber: how dirty, and how hard to dry."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from equipment.sizing.loss import Chamber, Loss
from equipment.sizing.rule_set import Figure, RuleSet, WetShare
from equipment.sizing.wording import plain, plain_beside
from equipment.sizing.working import Working


@dataclass(frozen=True)
class ClassOf:
    """A chamber's class, and whether the lead set it."""

    number: int
    set_by_lead: bool


def settle_category(loss: Loss, rules: RuleSet, working: Working) -> int:
    """The category given, or the one its source suggests; time never changes it, it asks for another look."""
    category: int = loss.category or _suggested(loss, rules)
    if loss.category is None:
        if loss.loss_source in (None, "other"):
            working.caution("category_unknown", "category", category=str(category))
        else:
            working.caution(
                "category_suggested", "category", category=str(category), origin=str(loss.loss_source).replace("_", " ")
            )
    hours = loss.hours_wet
    if hours is not None and category < 3 and hours > rules.category.reinspect_after_h.value:
        working.caution("category_reinspect", "hours_wet", hours=plain(hours), category=str(category))
    if hours is not None and hours >= rules.category.mould_watch_after_h.value:
        working.caution("mould_watch", "hours_wet", hours=plain(hours))
    return category


def _suggested(loss: Loss, rules: RuleSet) -> int:
    figure: Figure = getattr(rules.category, loss.loss_source or "unknown")
    return int(figure.value)


def settle_class(chamber: Chamber, share: Fraction, rules: RuleSet, where: str, working: Working) -> ClassOf:
    """
    Class 1 to 4: the lead's word, else 4 for stated bound water, else by the wet share of all surfaces.

    Class 4 is never inferred from a material.
    """
    by = rules.water_class
    if chamber.class_ is not None:
        working.row(f"{where}.class", f"set by the lead: class {chamber.class_}", "the lead")
        return ClassOf(chamber.class_, set_by_lead=True)
    if not isinstance(by, WetShare):
        raise ValueError(f"{rules.name} works no class out.")
    if chamber.bound_water:
        number = int(by.class_with_bound_water.value)
        working.row(f"{where}.class", f"bound water is stated: class {number}", by.class_with_bound_water.source)
        return ClassOf(number, set_by_lead=False)
    number, sum_ = _by_share(share * 100, by)
    working.row(f"{where}.class", sum_, by.class_2_from_pct.source)
    return ClassOf(number, set_by_lead=False)


def _by_share(percent: Fraction, by: WetShare) -> tuple[int, str]:
    low, high = by.class_2_from_pct.value, by.class_2_to_pct.value
    shown = f"{plain(percent)} %"
    if percent == low:
        number = int(by.class_at_lower_edge.value)
        return number, f"{shown} is exactly {plain(low)} %: class {number}"
    if percent == high:
        number = int(by.class_at_upper_edge.value)
        return number, f"{shown} is exactly {plain(high)} %: class {number}"
    shown = f"{plain_beside(percent, low, high)} %"
    if percent < low:
        return 1, f"{shown} is below {plain(low)} %: class 1"
    if percent < high:
        return 2, f"{shown} is from {plain(low)} % to {plain(high)} %: class 2"
    return 3, f"{shown} is above {plain(high)} %: class 3"
