"""The list of equipment models: its columns, what a row must be, and writing it."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from equipment.models import EquipmentModel
from equipment.sheets import cells
from equipment.sheets.checking import Column, GoodRow, Problem, Table, unknown

EQUIPMENT_KINDS = (
    "air_mover",
    "lgr",
    "conventional",
    "desiccant",
    "air_scrubber",
    "cavity_kit",
    "floor_mat_kit",
    "heater",
    "generator",
)
NEEDED_BY_KIND = {
    "lgr": "rated_pints_per_day",
    "conventional": "rated_pints_per_day",
    "desiccant": "process_cfm",
    "air_scrubber": "airflow_cfm",
    "cavity_kit": "outlets",
    "floor_mat_kit": "covers_sqft",
}
EQUIPMENT_MODELS = Table(
    "equipment_models",
    ("code",),
    (
        Column("code", cells.code(40)),
        Column("name", cells.text(80)),
        Column("kind", cells.one_of(*EQUIPMENT_KINDS)),
        Column("rated_pints_per_day", cells.number(1, 2_000), needed=False),
        Column("process_cfm", cells.number(1, 20_000), needed=False),
        Column("airflow_cfm", cells.number(1, 20_000), needed=False),
        Column("outlets", cells.whole(1, 200), needed=False),
        Column("covers_sqft", cells.number(1, 1_000), needed=False),
        Column("running_a", cells.number(0, 200)),
        Column("weight_lb", cells.number(1, 5_000)),
        Column("volume_cuft", cells.number(0.1, 500)),
        Column("service_due_h", cells.whole(1, 20_000), needed=False),
        Column("replacement_cost", cells.number(1, 500_000), needed=False),
        Column("equivalents", cells.codes(40), needed=False),
    ),
)
# Models that may stand in for this one, by code: they are rows of their own, not a field.
EQUIVALENTS = "equivalents"
# Where a column's word and the row's field differ.
FIELDS = {column.name: column.name for column in EQUIPMENT_MODELS.columns if column.name != EQUIVALENTS} | {
    "service_due_h": "service_hours"
}


def model_has_its_figure(row: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """Each kind of machine has the one figure that sizing counts by."""
    column = NEEDED_BY_KIND.get(row["kind"])
    if column is not None and row[column] is None:
        yield column, f"is empty; a {row['kind']} is counted by it (read the data plate)"


def equivalents_fit(rows: Sequence[GoodRow], named: frozenset[str]) -> Iterator[Problem]:
    """
    Each equivalent is a model that is `named` somewhere, and not the row's own; two rows of a file agree on each other.
    """
    said = {row.values["code"]: (row.line, frozenset((row.values[EQUIVALENTS] or "").split())) for row in rows}
    for code, (line, others) in said.items():
        for other in sorted(others):
            why = ""
            if other == code:
                why = f"{code} always stands in for itself; leave it out"
            elif other not in named:
                why = unknown(other, named, "the list of models; enter the model first")
            elif other in said and code not in said[other][1]:
                why = (
                    f"names {other}, but line {said[other][0]} does not name {code}; models stand in for each other: "
                    "name it in both rows or in neither"
                )
            if why:
                yield Problem("equipment_models.csv", line, EQUIVALENTS, why)


def write_models(rows: Sequence[GoodRow]) -> None:
    """Equipment models by code; what is there already is brought up to date, equivalents where any are named."""
    for row in rows:
        values = {FIELDS[name]: value for name, value in row.values.items() if name in FIELDS and name != "code"}
        EquipmentModel.objects.update_or_create(code=row.values["code"], defaults=values)
    write_equivalents({row.values["code"]: row.values[EQUIVALENTS] for row in rows if row.values[EQUIVALENTS]})


def write_equivalents(codes: Mapping[str, str | None]) -> None:
    """Say which models stand in for which, both ways: {code: codes divided by blanks, None for none}."""
    models = {model.code: model for model in EquipmentModel.objects.all()} if codes else {}
    for code, others in codes.items():
        models[code].equivalents.set([models[other] for other in (others or "").split()])
