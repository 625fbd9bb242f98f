"""What a crew sees of the equipment at a job: counts, hour meters, and which unit is plugged in where."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from equipment.models.stock import Unit
from jobs.models import Job, Visit


class SiteCount(models.Model):
    """How many units were seen at a job beside how many the record had there. It moves nothing."""

    append_only = True

    key = models.UUIDField(unique=True)
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="site_counts")
    visit = models.ForeignKey(Visit, null=True, on_delete=models.PROTECT, related_name="site_counts")
    listed = models.PositiveIntegerField()
    seen = models.PositiveIntegerField()
    missing = models.JSONField(default=list, help_text="Numbers of units that were looked for and not seen.")
    counted_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    counted_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        indexes = [models.Index(fields=["job", "counted_at"], name="counts_at_a_job")]

    def __str__(self) -> str:
        return f"{self.seen} of {self.listed} at {self.job_id}"


class MeterReading(models.Model):
    """A unit's hour meter at a job, with the hours that ran since the look before it; none where there was none."""

    append_only = True

    key = models.UUIDField(unique=True)
    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="meter_readings")
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="meter_readings")
    visit = models.ForeignKey(Visit, null=True, on_delete=models.PROTECT, related_name="meter_readings")
    hours = models.FloatField(help_text="What the meter showed.")
    says = models.CharField(max_length=10)
    clock_h = models.FloatField(null=True)
    ran_h = models.FloatField(null=True)
    silent_h = models.FloatField(null=True)
    reason = models.CharField(max_length=200, blank=True)
    read_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    read_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(hours__gte=0), name="a_meter_shows_hours_from_zero")]
        indexes = [models.Index(fields=["job", "unit", "read_at"], name="meters_at_a_job")]

    def __str__(self) -> str:
        return f"{self.unit_id} at {self.hours:g} h"


class PowerPlan(models.Model):
    """
    Which unit stands on which circuit, as the lead says; `suggested` is what the packing would have done.

    `circuits` = [{"name", "breaker_a", "reserved_a"}]; `units` = [{"number", "model", "amps"}] that stood there then;
    `places` and `suggested` = {unit number: index of the circuit}.
    """

    append_only = True

    key = models.UUIDField(unique=True)
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="power_plans")
    visit = models.ForeignKey(Visit, null=True, on_delete=models.PROTECT, related_name="power_plans")
    circuits = models.JSONField()
    units = models.JSONField()
    places = models.JSONField()
    suggested = models.JSONField()
    share = models.CharField(max_length=20, help_text="Share of a breaker for hours, as a fraction.")
    share_source = models.CharField(max_length=200, blank=True)
    made_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        indexes = [models.Index(fields=["job", "made_at"], name="power_plans_of_a_job")]

    def __str__(self) -> str:
        return f"power plan of {self.job_id}, {self.made_at:%Y-%m-%d %H:%M}"
