"""Which files a company is made of, which columns each has, and what a row refers to."""

from equipment.sheets import cells
from equipment.sheets.cells import Reader
from equipment.sheets.checking import Column, Table
from equipment.stock_lists.models_list import EQUIPMENT_KINDS, EQUIPMENT_MODELS

ROLES = ("dispatcher", "warehouse", "crew_lead", "technician", "manager")


def _may(name: str, read: Reader, refers: str = "") -> Column:
    return Column(name, read, needed=False, refers=refers)


_CODE = Column("code", cells.code(20))
_WAREHOUSE = Column("warehouse", cells.code(20), refers="warehouses")
_AREA = Column("area", cells.code(20), refers="areas")
_NOTE = _may("note", cells.text(150))
_SOURCED = (
    Column("source", cells.text(200)),
    _may("edition", cells.text(80)),
    Column("confidence", cells.one_of("published", "practice", "memory", "demo")),
    Column("valid_from", cells.day),
    _may("valid_until", cells.day),
    _NOTE,
)

# In the order in which they are written: what is referred to comes first.
TABLES: tuple[Table, ...] = (
    Table(
        "areas",
        ("code",),
        (_CODE, Column("name", cells.text(80)), Column("time_zone", cells.time_zone), _may("phone", cells.phone)),
    ),
    Table(
        "warehouses",
        ("code",),
        (
            _CODE,
            _AREA,
            Column("name", cells.text(80)),
            Column("street", cells.text(120)),
            Column("town", cells.text(60)),
            Column("state", cells.state),
            Column("zip", cells.zip_code),
            Column("lat", cells.number(-90, 90)),
            Column("lon", cells.number(-180, 180)),
            Column("load_minutes", cells.whole(0, 240)),
        ),
    ),
    Table(
        "vehicle_kinds",
        ("code",),
        (
            Column("code", cells.code(40)),
            Column("name", cells.text(40)),
            Column("usable_share", cells.number(0.1, 1)),
            *(_may(f"max_{kind}", cells.whole(0, 500)) for kind in EQUIPMENT_KINDS),
        ),
    ),
    EQUIPMENT_MODELS,
    Table(
        "vehicles",
        ("code",),
        (
            _CODE,
            Column("name", cells.text(80)),
            Column("kind", cells.code(40), refers="vehicle_kinds"),
            _WAREHOUSE,
            Column("gvwr_lb", cells.whole(1_000, 80_000)),
            _may("gcwr_lb", cells.whole(1_000, 80_000)),
            Column("payload_lb", cells.whole(100, 40_000)),
            Column("cargo_cuft", cells.whole(10, 5_000)),
            Column("in_workshop", cells.yes_no),
        ),
    ),
    Table(
        "standing_stock",
        ("vehicle_kind", "model"),
        (
            Column("vehicle_kind", cells.code(40), refers="vehicle_kinds"),
            Column("model", cells.code(40), refers="equipment_models"),
            Column("count", cells.whole(1, 500)),
        ),
    ),
    Table(
        "units",
        ("number",),
        (
            Column("number", cells.pattern(r"\d{4}", "a number of four digits, such as 0042")),
            Column("model", cells.code(40), refers="equipment_models"),
            Column("holder", cells.one_of("warehouse", "vehicle", "repair", "not_found")),
            # The warehouse or vehicle where it is; of a unit in repair or not found, where it belongs.
            Column("place", cells.code(20)),
            Column("condition", cells.one_of("ready", "not_yet_cleaned", "held_back", "broken")),
            _may("water_category", cells.whole(1, 3)),
            _may("hour_meter_h", cells.number(0, 99_999)),
            Column("rented", cells.yes_no),
            _may("supplier", cells.text(80)),
            _may("supplier_number", cells.text(40)),
            _may("daily_cost_usd", cells.number(0, 5_000)),
        ),
    ),
    Table(
        "accessories",
        ("code",),
        (
            Column("code", cells.code(40)),
            Column("name", cells.text(60)),
            Column("kind", cells.one_of("counted", "consumable")),
            Column("counted_in", cells.text(20)),
        ),
    ),
    Table(
        "accessory_stock",
        ("holder", "place", "accessory"),
        (
            Column("holder", cells.one_of("warehouse", "vehicle")),
            Column("place", cells.code(20)),
            Column("accessory", cells.code(40), refers="accessories"),
            Column("on_hand", cells.whole(0, 100_000)),
            Column("minimum", cells.whole(0, 100_000)),
        ),
    ),
    Table(
        "people",
        ("user_name",),
        (
            Column("user_name", cells.user_name),
            Column("name", cells.text(80)),
            Column("phone", cells.phone),
            Column("role", cells.one_of(*ROLES)),
            _WAREHOUSE,
        ),
    ),
    Table(
        "cards",
        ("user_name", "kind", "state"),
        (
            Column("user_name", cells.user_name, refers="people"),
            Column("kind", cells.code(40)),
            _may("state", cells.state),
            _may("issued_on", cells.day),
            _may("expires_on", cells.day),
        ),
    ),
    Table(
        "firm_licenses",
        ("area", "state", "kind"),
        (
            _AREA,
            Column("state", cells.state),
            Column("kind", cells.code(40)),
            _may("expires_on", cells.day),
        ),
    ),
    Table(
        "payers",
        ("code", "valid_from"),
        (
            Column("code", cells.code(30)),
            Column("name", cells.text(80)),
            _may("kind", cells.text(30)),
            _may("contact_minutes", cells.whole(1, 100_000)),
            _may("arrival_minutes", cells.whole(1, 100_000)),
            _may("report_hours", cells.whole(1, 10_000)),
            Column("day_count", cells.one_of("completed_24h", "started_24h", "calendar_days")),
            Column("count_by", cells.one_of("whole_job", "room_by_room")),
            *_SOURCED,
        ),
    ),
    Table(
        "state_rules",
        ("state", "topic", "valid_from"),
        (
            Column("state", cells.state_or_us),
            Column("topic", cells.code(40)),
            Column("value", cells.plain_value),
            _may("unit", cells.text(45)),
            *_SOURCED,
        ),
    ),
    Table(
        "shifts",
        ("day", "user_name", "kind"),
        (
            Column("day", cells.day),
            Column("user_name", cells.user_name, refers="people"),
            Column("kind", cells.one_of("day", "night", "on_call")),
            Column("from", cells.clock),
            Column("until", cells.clock),
        ),
    ),
    Table(
        "crews",
        ("day", "code"),
        (
            Column("code", cells.code(40)),
            Column("day", cells.day),
            Column("kind", cells.one_of("day", "night")),
            Column("lead", cells.user_name, refers="people"),
            _may("helper", cells.user_name, refers="people"),
            Column("vehicle", cells.code(20), refers="vehicles"),
            Column("start", cells.code(20), refers="warehouses"),
            _may("end", cells.code(20), refers="warehouses"),
            Column("from", cells.clock),
            Column("until", cells.clock),
            Column("at_latest", cells.clock),
        ),
    ),
    Table(
        "call_out_order",
        ("night", "position"),
        (
            Column("night", cells.day),
            Column("position", cells.whole(1, 100)),
            Column("user_name", cells.user_name, refers="people"),
        ),
    ),
)
