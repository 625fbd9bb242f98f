"""The list of equipment models: its columns, what a row must be, and writing it."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from equipment.models import EquipmentModel
from equipment.sheets import cells
from equipment.sheets.checking import Column, GoodRow, Table

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
    ),
)
# Where a column's word and the row's field differ.
FIELDS = {column.name: column.name for column in EQUIPMENT_MODELS.columns} | {"service_due_h": "service_hours"}


def model_has_its_figure(row: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """Each kind of machine has the one figure that sizing counts by."""
    column = NEEDED_BY_KIND.get(row["kind"])
    if column is not None and row[column] is None:
        yield column, f"is empty; a {row['kind']} is counted by it (read the data plate)"


def write_models(rows: Sequence[GoodRow]) -> None:
    """Equipment models by code; what is there already is brought up to date."""
    for row in rows:
        EquipmentModel.objects.update_or_create(
            code=row.values["code"],
            defaults={FIELDS[name]: value for name, value in row.values.items() if name != "code"},
        )
