"""
Hours of whoever drives a heavy vehicle between states: the window of driving and the short haul. No database.

49 CFR 395.3(a) limits driving, not other work: after the window a driver may go on working but not drive.
"""

from datetime import UTC, datetime, timedelta

from dispatch.rules import figure


def may_drive(*, on_duty_since: datetime, at: datetime) -> bool:
    """Whether the window of driving, counted in real hours from coming on duty, is still open (49 CFR 395.3(a)(2))."""
    return at.astimezone(UTC) - on_duty_since.astimezone(UTC) <= timedelta(hours=figure("driving_window_hours"))


def is_short_haul(*, farthest_air_miles: float, left_at: datetime, released_at: datetime) -> bool:
    """Whether the day needs no log: within the radius, back and released in time (49 CFR 395.1(e)(1))."""
    away = released_at.astimezone(UTC) - left_at.astimezone(UTC)
    return farthest_air_miles <= figure("short_haul_air_miles") and away <= timedelta(
        hours=figure("driving_window_hours")
    )
