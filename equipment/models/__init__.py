from equipment.models.billed import BilledDays
from equipment.models.counts import CountLine, CountList, FastCount
from equipment.models.loans import Loan
from equipment.models.on_site import MeterReading, PowerPlan, SiteCount
from equipment.models.places import Holder, Vehicle, Warehouse
from equipment.models.promises import (
    LoadedUnit,
    LoadLine,
    LoadList,
    Reservation,
    ReservationEntry,
    SizingReport,
)
from equipment.models.service import Service
from equipment.models.stock import (
    Alarm,
    Condition,
    CountedStock,
    Discrepancy,
    EquipmentModel,
    Move,
    Pool,
    Unit,
    UnitNow,
)

__all__ = [
    "Alarm",
    "BilledDays",
    "Condition",
    "CountLine",
    "CountList",
    "CountedStock",
    "Discrepancy",
    "EquipmentModel",
    "FastCount",
    "Holder",
    "LoadLine",
    "LoadList",
    "LoadedUnit",
    "Loan",
    "MeterReading",
    "Move",
    "Pool",
    "PowerPlan",
    "Reservation",
    "ReservationEntry",
    "Service",
    "SiteCount",
    "SizingReport",
    "Unit",
    "UnitNow",
    "Vehicle",
    "Warehouse",
]
