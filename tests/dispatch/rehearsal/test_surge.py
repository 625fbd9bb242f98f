"""A three-day freeze of the demo area, ten storms: our rule against the nearest free crew, on promises kept."""

import statistics
from pathlib import Path

import pytest
from django.conf import settings

from dispatch.rehearsal import runs
from dispatch.rehearsal.fleets import AS_IT_IS
from dispatch.rehearsal.results import STORM_START
from dispatch.rehearsal.setting import read_setting
from jobs.models import Area

DEMO: Path = settings.BASE_DIR / "fixtures_demo"
SEEDS = tuple(range(1, 11))
WORSE_AT_MOST = 2.0
"""Points of the percentage."""


def asked_for(seeds: tuple[int, ...]) -> runs.Asked:
    start = STORM_START - runs.BEFORE * runs.ONE_DAY
    return runs.Asked(DEMO, start, days=3, storm="freeze", seeds=seeds, rules=("ours", "nearest"))


@pytest.mark.long
@pytest.mark.django_db
def test_the_company_is_read_by_the_rules_of_the_program() -> None:
    """As the sheets have it: every crew of the first day, its warehouse, its vehicle's room, all ready machines."""
    asked, setting = asked_for((1,)), read_setting(DEMO)
    ready = runs.stage(asked, setting, runs.import_for(asked, setting, AS_IT_IS))
    shifts = {shift.crew: shift for shift in ready.company.shifts}
    assert len(shifts) == 29
    assert (shifts["TD01"].from_s, shifts["TD01"].until_s) == (7 * 3600, 16 * 3600)
    assert shifts["TN01"].until_s == 30 * 3600
    assert shifts["TN01"].weekends
    assert sum(shift.weekends for shift in shifts.values()) == 10 + 4
    assert all("water" in shift.skills for shift in shifts.values())
    assert shifts["TD01"].capacity["air_mover"] > shifts["TD01"].standing["air_mover"]
    assert {depot.place.id for depot in ready.company.depots} == {"north", "south", "valley", "river"}
    assert sum(depot.ready.get("air_mover", 0) for depot in ready.company.depots) == 641
    assert ready.demand.payers["agreement"] == (8, 90 * 60)
    assert Area.objects.count() == 1


@pytest.mark.long
@pytest.mark.django_db
def test_our_rule_keeps_as_many_promises_as_the_nearest_crew() -> None:
    asked, setting = asked_for(SEEDS), read_setting(DEMO)
    ready = runs.stage(asked, setting, runs.import_for(asked, setting, AS_IT_IS))
    kept: dict[str, list[float]] = {}
    for rule in asked.rules:
        found = [runs.run(asked, ready, fleet=AS_IT_IS, rule=rule, seed=seed) for seed in SEEDS]
        kept[rule] = [one.measures.as_document()["promises_kept_pct"] for one in found]
    table = list(zip(SEEDS, kept["ours"], kept["nearest"], strict=True))
    assert statistics.fmean(kept["ours"]) >= statistics.fmean(kept["nearest"]), table
    assert all(ours >= nearest - WORSE_AT_MOST for _, ours, nearest in table), table
