"""Service areas and who holds which role in them."""

import zoneinfo

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models

from jobs import access


def known_time_zone(value: str) -> None:
    """Refuse a zone that the time zone database does not hold."""
    if value not in zoneinfo.available_timezones():
        raise ValidationError(f"{value!r} is no time zone; America/Los_Angeles would be one.")


class Area(models.Model):
    """A service area: its own warehouses, crews, time zone and rules."""

    code = models.SlugField(max_length=20, unique=True)
    name = models.CharField(max_length=80)
    time_zone = models.CharField(max_length=50, default="America/Los_Angeles", validators=[known_time_zone])
    phone = models.CharField(max_length=20, blank=True, help_text="The number that callers are told.")

    def __str__(self) -> str:
        return self.name

    @property
    def zone(self) -> zoneinfo.ZoneInfo:
        return zoneinfo.ZoneInfo(self.time_zone)


class Membership(models.Model):
    """One role of one user, in one area or (no area) in all of them."""

    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="memberships")
    area = models.ForeignKey(Area, null=True, blank=True, on_delete=models.CASCADE, related_name="memberships")
    role = models.CharField(max_length=20, choices=list(access.ROLES.items()))

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["user", "area", "role"], name="a_role_in_an_area_is_held_once"),
            models.UniqueConstraint(
                fields=["user", "role"],
                condition=models.Q(area__isnull=True),
                name="a_role_in_all_areas_is_held_once",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.user}: {self.get_role_display()}"
