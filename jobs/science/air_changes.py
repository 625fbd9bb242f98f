"""Air changes: how much air a filter must move, and how long it takes to clear what is in the air."""

import math

REMOVAL_SOURCE = "CDC, Guidelines for Environmental Infection Control in Health-Care Facilities (2003), table B.1"
MIXING_FACTOR = (1.0, 10.0)
"""1 is perfect mixing; stagnant air takes up to 10 times as long (notes to the same table)."""


def removal_minutes(ach: float, share_removed: float, mixing_factor: float = 1.0) -> float:
    """
    Minutes until a share of what floats in the air is gone, its source stopped: 60 ln(1 / (1 - share)) / ach.

    CDC 2003, table B.1, whose figures are this formula rounded to the minute at a mixing factor of 1.

    :param ach: air changes an hour, above zero.
    :param share_removed: from 0 up to, not including, 1 (0.99 = 99 %).
    :param mixing_factor: 1 (perfect mixing) to 10 (poor); multiplies the time.
    """
    if not (math.isfinite(ach) and ach > 0):
        raise ValueError(f"{ach:g} air changes an hour clear nothing; give more than zero.")
    if not 0 <= share_removed < 1:
        raise ValueError(
            f"A share of {share_removed:g} cannot be reached; give 0 up to, not including, 1 (0.99 = 99 %)."
        )
    if not MIXING_FACTOR[0] <= mixing_factor <= MIXING_FACTOR[1]:
        raise ValueError(f"The mixing factor is {mixing_factor:g}; give 1 (perfect mixing) to 10 (poor mixing).")
    return mixing_factor * 60 * -math.log1p(-share_removed) / ach


def airflow_cfm(volume_cuft: float, ach: float) -> float:
    """Airflow (cfm) that changes a volume (cubic ft) so many times an hour."""
    if not (math.isfinite(volume_cuft) and volume_cuft >= 0):
        raise ValueError(f"The volume is {volume_cuft:g} cubic ft; give zero or more.")
    if not (math.isfinite(ach) and ach >= 0):
        raise ValueError(f"The air changes are {ach:g} an hour; give zero or more.")
    return volume_cuft * ach / 60


def air_changes_per_hour(cfm: float, volume_cuft: float) -> float:
    """Air changes an hour that an airflow (cfm) makes in a volume (cubic ft)."""
    if not (math.isfinite(cfm) and cfm >= 0):
        raise ValueError(f"The airflow is {cfm:g} cfm; give zero or more.")
    if not (math.isfinite(volume_cuft) and volume_cuft > 0):
        raise ValueError(f"The volume is {volume_cuft:g} cubic ft; give more than zero.")
    return 60 * cfm / volume_cuft
