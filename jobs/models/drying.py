"""The drying log: air and material readings. A correction is a new row; what it replaces stays."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from jobs.models.job import Job
from jobs.models.visit import Visit


class Reading(models.Model):
    """What every reading has: when, by whom, on which visit, and what it corrects."""

    append_only = True

    visit = models.ForeignKey(Visit, null=True, blank=True, on_delete=models.PROTECT, related_name="%(class)ss")
    taken_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    taken_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    key = models.UUIDField(unique=True)
    reason = models.CharField(max_length=300, blank=True, help_text="Why an earlier reading was corrected.")

    class Meta:
        abstract = True


class AirReading(Reading):
    """Temperature and relative humidity taken together: grains per pound needs both."""

    class Where(models.TextChoices):
        INSIDE = "inside", "affected area"
        OUTSIDE = "outside", "outside"
        UNAFFECTED = "unaffected", "unaffected area"
        OUTLET = "outlet", "dehumidifier outlet"

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="air_readings")
    replaces = models.OneToOneField("self", null=True, blank=True, on_delete=models.PROTECT, related_name="replaced_by")
    where = models.CharField(max_length=12, choices=Where)
    chamber_name = models.CharField(max_length=60, blank=True)
    unit_number = models.CharField(max_length=12, blank=True)
    dry_bulb_f = models.FloatField()
    rh_pct = models.FloatField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(rh_pct__gt=0, rh_pct__lte=100), name="relative_humidity_is_a_percentage"
            ),
        ]
        indexes = [models.Index(fields=["job", "taken_at"], name="air_of_a_job")]

    def __str__(self) -> str:
        return f"{self.where} {self.dry_bulb_f} °F {self.rh_pct} %"


class MaterialPoint(models.Model):
    """A numbered, marked point: the same place, the same meter, every day, until it meets its goal."""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="points")
    number = models.PositiveSmallIntegerField()
    room_name = models.CharField(max_length=60)
    place = models.CharField(max_length=80, blank=True)
    material = models.CharField(max_length=30)
    meter = models.CharField(max_length=40)
    scale = models.CharField(max_length=20)
    dry_standard = models.FloatField()
    goal = models.FloatField()

    class Meta:
        ordering = ["number"]
        constraints = [models.UniqueConstraint(fields=["job", "number"], name="points_of_a_job_are_numbered_once")]

    def __str__(self) -> str:
        return f"point {self.number}: {self.material}"


class MaterialReading(Reading):
    """One meter value at one point."""

    point = models.ForeignKey(MaterialPoint, on_delete=models.PROTECT, related_name="readings")
    replaces = models.OneToOneField("self", null=True, blank=True, on_delete=models.PROTECT, related_name="replaced_by")
    value = models.FloatField()

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(value__gte=0), name="a_meter_shows_no_negative_value")]
        indexes = [models.Index(fields=["point", "taken_at"], name="readings_of_a_point")]

    def __str__(self) -> str:
        return f"{self.value} at point {self.point_id}"
