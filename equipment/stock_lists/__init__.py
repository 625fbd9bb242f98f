"""
The company's models and numbered units as files: written out, looked over, taken in.

A file that was written out and comes back unchanged changes nothing. A file moves no unit: where a unit is, custody
alone says, so a unit that is known stays where the record has it.
"""

from equipment.stock_lists.exporting import models_csv, units_csv
from equipment.stock_lists.importing import Imported, import_models, import_units
from equipment.stock_lists.looking import Change, LookedOver, look_over
from equipment.stock_lists.models_list import EQUIPMENT_MODELS, write_models
from equipment.stock_lists.units_list import UNITS

__all__ = [
    "EQUIPMENT_MODELS",
    "UNITS",
    "Change",
    "Imported",
    "LookedOver",
    "import_models",
    "import_units",
    "look_over",
    "models_csv",
    "units_csv",
    "write_models",
]
