"""What was changed about who works when."""

from django.conf import settings
from django.db import models

from dispatch.models.people import Person
from jobs.models import Area


class RotaChange(models.Model):
    """One change: who, when, why, and in words what it did to shifts, crews and the call-out order."""

    append_only = True

    class What(models.TextChoices):
        MADE = "made", "shift made"
        SWAPPED = "swapped", "shifts swapped"
        COVERED = "covered", "shift covered"
        CANCELED = "canceled", "shift taken out"
        ORDERED = "ordered", "call-out order set"

    area = models.ForeignKey(Area, on_delete=models.PROTECT, related_name="rota_changes")
    what = models.CharField(max_length=10, choices=What)
    person = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")
    other = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    did = models.JSONField(default=list)
    reason = models.CharField(max_length=300, blank=True)
    changed_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    changed_at = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["area", "changed_at"], name="rota_changes_of_an_area")]

    def __str__(self) -> str:
        return f"{self.what} {self.starts_at:%Y-%m-%d %H:%M}"
