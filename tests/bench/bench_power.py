"""
How long packing and mix take, and what is proven.

    python -m tests.bench.bench_power

Invented units of 4 to 12 models (1.2 to 9.5 A) on 15 and 20 A circuits that carry 70, 95 or 100 % of their amps, and
losses of 1 to 10 chambers with 12 models. Milliseconds without the solver's import.
"""

from __future__ import annotations

import random
import statistics
import time
from fractions import Fraction

from equipment.sizing import mix, power

LIMITS_A = (Fraction(12), Fraction(16))
RUNS = 24


def invented_loads(units: int, seed: int) -> tuple[list[power.Load], list[power.Circuit]]:
    draw = random.Random(f"power {units} {seed}")
    models = [(f"m{i:02}", Fraction(draw.randint(12, 95), 10)) for i in range(draw.choice((4, 6, 8, 12)))]
    picked = [draw.choice(models) for _ in range(units)]
    loads = [power.Load(model, amps, picked.count((model, amps))) for model, amps in models]
    wanted = sum((amps for _, amps in picked), Fraction(0)) * draw.choice((70, 95, 100)) / 100
    circuits: list[power.Circuit] = []
    while sum(circuit.limit_a for circuit in circuits) < wanted:
        circuits.append(power.Circuit(draw.choice(LIMITS_A)))
    return loads, circuits


def invented_loss(chambers: int, seed: int) -> tuple[list[mix.Need], list[mix.CatalogueModel]]:
    draw = random.Random(f"mix {chambers} {seed}")
    models = [
        mix.CatalogueModel(
            f"lgr {i}",
            "lgr",
            Fraction(draw.randint(50, 120), 10),
            draw.randint(2, 8),
            rated_pints_per_day=Fraction(draw.choice((70, 85, 110, 130, 150, 180))),
        )
        for i in range(5)
    ]
    models += [mix.CatalogueModel(f"mover {i}", "air_mover", Fraction(draw.randint(12, 45), 10), 40) for i in range(4)]
    models += [
        mix.CatalogueModel(f"scrubber {i}", "air_scrubber", Fraction(3 + i), 5, airflow_cfm=Fraction(500 + 400 * i))
        for i in range(3)
    ]
    needs = [mix.Need(None, "air_scrubber", "cfm", Fraction(2300), "airflow_cfm")]
    for chamber in range(chambers):
        pints = Fraction(draw.randint(500, 3500), 10)
        needs.append(mix.Need(f"c{chamber}", "lgr", "pints_per_day", pints, "rated_pints_per_day"))
        needs.append(mix.Need(f"c{chamber}", "air_mover", "count", Fraction(draw.randint(2, 12)), None))
    return needs, models


def main() -> None:
    power.warm()
    mix.warm()
    print(f"{'':<14} {'median ms':>9} {'most ms':>8} {'proven':>7} {'circuits from best, most':>25}")
    for units in (12, 25, 50, 80, 150):
        spent, packings = [], []
        for seed in range(RUNS):
            loads, circuits = invented_loads(units, seed)
            start = time.perf_counter()
            packings.append(power.pack(loads, circuits))
            spent.append(1000 * (time.perf_counter() - start))
        proven = sum(packing.proven for packing in packings)
        worst = max(packing.circuits_from_best for packing in packings)
        print(
            f"{units:>4} units     {statistics.median(spent):>9.0f} {max(spent):>8.0f} {proven:>4}/{RUNS} {worst:>25}"
        )
    for chambers in (1, 3, 6, 10):
        spent, mixes = [], []
        for seed in range(RUNS):
            needs, models = invented_loss(chambers, seed)
            start = time.perf_counter()
            mixes.append(mix.solve_mix(needs, models))
            spent.append(1000 * (time.perf_counter() - start))
        proven = sum(each.proven for each in mixes)
        print(f"{chambers:>4} chambers  {statistics.median(spent):>9.0f} {max(spent):>8.0f} {proven:>4}/{RUNS}")


if __name__ == "__main__":
    main()
