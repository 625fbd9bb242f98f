"""Reading equipment: frozen dataclasses in a fixed number of queries, whatever the number of units."""

from equipment.selectors.availability import (
    Aboard,
    Available,
    Expected,
    Holding,
    aboard,
    availability,
    expected_back,
    who_holds,
)
from equipment.selectors.lists import LineView, LoadListView, Ready, load_list, load_lists
from equipment.selectors.on_the_road import OnTheRoad, Road, on_the_road
from equipment.selectors.returns import Arrival, JobReturns, recent_arrivals, recent_returns
from equipment.selectors.signs import AlarmView, DiscrepancyView, open_alarms, open_discrepancies
from equipment.selectors.sources import Source, where_can_i_get
from equipment.selectors.units import (
    HistoryRow,
    ReturnsView,
    Step,
    UnitAtJob,
    UnitHistory,
    UnitRow,
    back_from_job,
    cleaning_queue,
    find_units,
    not_seen_since,
    unit_history,
    units_at_finished_jobs,
    units_at_job,
)

__all__ = [
    "Aboard",
    "AlarmView",
    "Arrival",
    "Available",
    "DiscrepancyView",
    "Expected",
    "HistoryRow",
    "Holding",
    "JobReturns",
    "LineView",
    "LoadListView",
    "OnTheRoad",
    "Ready",
    "ReturnsView",
    "Road",
    "Source",
    "Step",
    "UnitAtJob",
    "UnitHistory",
    "UnitRow",
    "aboard",
    "availability",
    "back_from_job",
    "cleaning_queue",
    "expected_back",
    "find_units",
    "load_list",
    "load_lists",
    "not_seen_since",
    "on_the_road",
    "open_alarms",
    "open_discrepancies",
    "recent_arrivals",
    "recent_returns",
    "unit_history",
    "units_at_finished_jobs",
    "units_at_job",
    "where_can_i_get",
    "who_holds",
]
