"""When somebody last looked at what others had changed."""

from django.conf import settings
from django.db import models

from jobs.models import Area


class LastLook(models.Model):
    """Up to when a user has seen an area's changes."""

    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")
    area = models.ForeignKey(Area, on_delete=models.CASCADE, related_name="+")
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["user", "area"], name="somebody_looked_last_at_one_time_in_an_area"),
        ]

    def __str__(self) -> str:
        return f"{self.user_id} at {self.at:%Y-%m-%d %H:%M}"
