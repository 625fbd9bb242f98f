"""Counting: the daily list of a warehouse, and counts by model that still await their numbers."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from equipment.models.places import Vehicle, Warehouse
from equipment.models.stock import EquipmentModel, Unit


class CountList(models.Model):
    """The units to be counted at a warehouse on one local day, drawn once, so that counting makes it shorter."""

    warehouse = models.ForeignKey(Warehouse, on_delete=models.PROTECT, related_name="count_lists")
    day = models.DateField()
    drawn_at = models.DateTimeField()
    drawn_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["warehouse", "day"], name="one_count_list_a_day")]

    def __str__(self) -> str:
        return f"{self.warehouse_id} {self.day}"


class CountLine(models.Model):
    """One unit to be counted and why. It is counted once it was seen after the list was drawn."""

    count_list = models.ForeignKey(CountList, on_delete=models.CASCADE, related_name="lines")
    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="+")
    points = models.PositiveIntegerField()
    reasons = models.JSONField(default=list)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["count_list", "unit"], name="a_unit_stands_once_on_a_count_list")
        ]

    def __str__(self) -> str:
        return f"{self.unit_id}: {self.points}"


class FastCount(models.Model):
    """
    "6 air movers loaded onto vehicle 12": counted by model in the night, the numbers later.

    It moves nothing by itself. `units` are those whose numbers were given since; it is settled when they are as many
    as were counted, or when somebody explains why they are not.
    """

    vehicle = models.ForeignKey(Vehicle, on_delete=models.PROTECT, related_name="fast_counts")
    warehouse = models.ForeignKey(Warehouse, on_delete=models.PROTECT, related_name="fast_counts")
    model = models.ForeignKey(EquipmentModel, on_delete=models.PROTECT, related_name="fast_counts")
    quantity = models.PositiveIntegerField()
    units = models.ManyToManyField(Unit, blank=True, related_name="fast_counts")
    note = models.CharField(max_length=120, blank=True)
    happened_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    counted_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    settled_at = models.DateTimeField(null=True, blank=True)
    explanation = models.CharField(max_length=300, blank=True)

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(quantity__gt=0), name="a_fast_count_counts_something")]
        indexes = [models.Index(fields=["warehouse", "settled_at", "happened_at"], name="counts_awaiting_numbers")]

    def __str__(self) -> str:
        return f"{self.quantity} of {self.model_id} on {self.vehicle_id}"
