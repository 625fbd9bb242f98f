"""Where equipment can be: warehouses, vehicles, and the holders that custody moves between."""

from django.db import models
from django.db.models import Q

from equipment.models.loans import Loan
from jobs.models import Area, Job


class Warehouse(models.Model):
    """A place where equipment is kept."""

    area = models.ForeignKey(Area, on_delete=models.PROTECT, related_name="warehouses")
    code = models.SlugField(max_length=20, unique=True)
    name = models.CharField(max_length=80)
    street = models.CharField(max_length=120)
    town = models.CharField(max_length=60)
    state = models.CharField(max_length=2)
    zip_code = models.CharField(max_length=10)
    lat = models.FloatField()
    lon = models.FloatField()
    load_s = models.PositiveIntegerField(default=900, help_text="Seconds to load a vehicle here.")

    def __str__(self) -> str:
        return self.name


class Vehicle(models.Model):
    """A vehicle: an asset that holds equipment. `capacity` = {equipment kind: units} plus volume_cuft."""

    area = models.ForeignKey(Area, on_delete=models.PROTECT, related_name="vehicles")
    code = models.SlugField(max_length=20, unique=True)
    name = models.CharField(max_length=80)
    kind = models.CharField(max_length=40)
    home = models.ForeignKey(Warehouse, on_delete=models.PROTECT, related_name="vehicles")
    gvwr_lb = models.PositiveIntegerField()
    payload_lb = models.PositiveIntegerField()
    cargo_cuft = models.PositiveIntegerField()
    capacity = models.JSONField(default=dict)
    standing_stock = models.JSONField(default=dict, help_text="Equipment model code: units it should always carry.")
    in_workshop = models.BooleanField(default=False)
    lat = models.FloatField(null=True, blank=True)
    lon = models.FloatField(null=True, blank=True)
    seen_at = models.DateTimeField(null=True, blank=True)
    loan = models.ForeignKey(Loan, null=True, blank=True, on_delete=models.PROTECT, related_name="vehicles")

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(payload_lb__lt=models.F("gvwr_lb")), name="payload_is_less_than_gvwr"),
        ]

    def __str__(self) -> str:
        return self.name


class Holder(models.Model):
    """Who has a unit: exactly one of a warehouse, a vehicle, a job; or repair, a supplier, the road, not found."""

    class Kind(models.TextChoices):
        WAREHOUSE = "warehouse", "warehouse"
        VEHICLE = "vehicle", "vehicle"
        JOB = "job", "job"
        REPAIR = "repair", "being repaired"
        SUPPLIER = "supplier", "rental supplier"
        ROAD = "road", "on the road between warehouses"
        NOT_FOUND = "not_found", "not found"
        GONE = "gone", "sold or scrapped"

    area = models.ForeignKey(Area, on_delete=models.PROTECT, related_name="holders")
    kind = models.CharField(max_length=12, choices=Kind)
    warehouse = models.OneToOneField(Warehouse, null=True, blank=True, on_delete=models.PROTECT, related_name="holder")
    vehicle = models.OneToOneField(Vehicle, null=True, blank=True, on_delete=models.PROTECT, related_name="holder")
    job = models.OneToOneField(Job, null=True, blank=True, on_delete=models.PROTECT, related_name="holder")
    name = models.CharField(max_length=120, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=(
                    Q(kind="warehouse", warehouse__isnull=False, vehicle__isnull=True, job__isnull=True)
                    | Q(kind="vehicle", warehouse__isnull=True, vehicle__isnull=False, job__isnull=True)
                    | Q(kind="job", warehouse__isnull=True, vehicle__isnull=True, job__isnull=False)
                    | Q(
                        kind__in=["repair", "supplier", "road", "not_found", "gone"],
                        warehouse__isnull=True,
                        vehicle__isnull=True,
                        job__isnull=True,
                    )
                ),
                name="a_holder_is_just_what_its_kind_says",
            ),
        ]

    def __str__(self) -> str:
        return self.name or self.get_kind_display()
