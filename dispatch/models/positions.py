"""Where a crew's phone was last, when its lead lets it be told."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from dispatch.models.crews import Crew


class PhonePosition(models.Model):
    """
    The newest position that a crew's phone told, with its own time.

    Not a fact of the record: one row for each crew, overwritten, and erased on schedule or when the lead says so.
    """

    crew = models.OneToOneField(Crew, on_delete=models.CASCADE, related_name="phone_position")
    told_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")
    lat = models.FloatField()
    lon = models.FloatField()
    accuracy_m = models.FloatField()
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(lat__gte=-90, lat__lte=90, lon__gte=-180, lon__lte=180), name="a_position_is_on_earth"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.crew_id} at {self.at}"
