"""Services by the hour meter: when the maker's interval was last met."""

from django.conf import settings
from django.db import models

from equipment.models.stock import Unit


class Service(models.Model):
    """One full service of a unit, with what its hour meter showed."""

    append_only = True

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="services")
    hour_meter = models.FloatField(help_text="Hours on the meter at the service.")
    at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    actor = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        indexes = [models.Index(fields=["unit", "at", "id"], name="services_of_a_unit")]

    def __str__(self) -> str:
        return f"{self.unit_id} serviced at {self.hour_meter:g} h"
