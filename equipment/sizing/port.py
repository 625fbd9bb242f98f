"""The sizing port in one process: a loss in, a report out."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from equipment.sizing.catalogue import check_also, models_for
from equipment.sizing.cavities import size_cavities
from equipment.sizing.chamber import is_wholly_dry, size_chamber
from equipment.sizing.filtration import size_filtration
from equipment.sizing.hazards import warn_of_site
from equipment.sizing.loss import Loss
from equipment.sizing.loss_checks import check_class_given, read_loss
from equipment.sizing.needs import choose, wanted
from equipment.sizing.power_plan import NO_POWER, plan_power
from equipment.sizing.reading import read_document
from equipment.sizing.report import Report
from equipment.sizing.rule_set import RuleSet, SetByLead, chosen_rules
from equipment.sizing.water import settle_category
from equipment.sizing.wood_floors import size_wood_floors
from equipment.sizing.working import Working


def run(raw: bytes | str, *, company_rules: Mapping[str, RuleSet] | None = None) -> str:
    """
    The port: UTF-8 JSON of a loss to the JSON of its report. Same input, same text.

    :raises LossRefused: before any work, for input that is not a possible loss.
    """
    return size_document(read_document(raw), company_rules=company_rules).as_json()


def size_document(document: Any, *, company_rules: Mapping[str, RuleSet] | None = None) -> Report:
    """
    The same for a document that is already parsed, with Python or JSON numbers.

    :raises LossRefused: before any work, for input that is not a possible loss.
    """
    loss = read_loss(document)
    return size(loss, chosen_rules(loss.rules, company_rules))


def size(loss: Loss, rules: RuleSet, *, with_mix: bool = True, with_power: bool = True) -> Report:
    """
    Size a loss by a rule set; equipment is chosen and placed on circuits unless that is not asked for.

    :raises LossRefused: if the rule set wants a class that the lead has not set, or a model added is unknown.
    """
    models = models_for(loss, rules)
    check_also(loss.also, models)
    if isinstance(rules.water_class, SetByLead):
        check_class_given(loss.chambers, rules.name)
    working = Working()
    category = settle_category(loss, rules, working)
    warn_of_site(loss, category, wet=not all(map(is_wholly_dry, loss.chambers)), working=working)
    sized = [
        size_chamber(chamber, category, loss.elevation_ft, rules, f"chambers[{index}]", working)
        for index, chamber in enumerate(loss.chambers)
    ]
    chambers = tuple(report for report, _ in sized)
    filtration = size_filtration([air for _, air in sized], category, loss.mould_sqft, rules, working)
    cavities = size_cavities(loss, category, models, rules, working)
    floors = size_wood_floors(loss, category, models, rules, working)
    needs = wanted(chambers, filtration, cavities, floors)
    kits = {"cavity_kit": cavities.kits, "floor_mat_kit": floors.kits}
    mix, short = choose(needs, kits, models, working) if with_mix else ((), ())
    power = plan_power(mix, loss.also, models, loss.circuits, rules, working) if with_power else NO_POWER
    return Report(
        rules=rules.label,
        chambers=chambers,
        air_filtration=filtration,
        wall_cavities=cavities,
        wood_floors=floors,
        mix=mix,
        short=short,
        power=power,
        refusals=tuple(working.refusals),
        cautions=tuple(working.cautions),
        working=tuple(working.rows),
    )
