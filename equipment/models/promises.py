"""What is promised: sizing reports, reservations with their journal, and load lists."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from equipment.models.places import Vehicle
from equipment.models.stock import EquipmentModel, Pool, Unit
from jobs.models import Call, Job


class SizingReport(models.Model):
    """What the program suggested for a loss, as it was said: the input and the whole report."""

    append_only = True

    call = models.ForeignKey(Call, null=True, on_delete=models.PROTECT, related_name="sizing_reports")
    job = models.ForeignKey(Job, null=True, on_delete=models.PROTECT, related_name="sizing_reports")
    loss = models.JSONField()
    report = models.JSONField()
    rules = models.CharField(max_length=120)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return f"sizing of {self.made_at:%Y-%m-%d %H:%M}"


class Reservation(models.Model):
    """
    The current-state row of one promise: `quantity` units from one pool over [starts_at, ends_at) for one job.

    `drawn` of them are already out on it. It rests on a sizing report or on the lead's reason.
    """

    class State(models.TextChoices):
        HELD = "held", "held until confirmed"
        CONFIRMED = "confirmed", "confirmed"
        RELEASED = "released", "released"
        EXPIRED = "expired", "lapsed"
        CLOSED = "closed", "closed"

    pool = models.ForeignKey(Pool, on_delete=models.PROTECT, related_name="reservations")
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="reservations")
    state = models.CharField(max_length=10, choices=State)
    quantity = models.PositiveIntegerField()
    drawn = models.PositiveIntegerField(default=0)
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    keep_until = models.DateTimeField(null=True)
    sizing = models.ForeignKey(SizingReport, null=True, on_delete=models.PROTECT, related_name="reservations")
    leads_reason = models.CharField(max_length=300, blank=True)
    made_at = models.DateTimeField()
    seal = models.CharField(max_length=64, default="", help_text="Of the promise's last entry.")

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(ends_at__gt=F("starts_at")), name="a_promise_ends_after_it_starts"),
            models.CheckConstraint(condition=Q(drawn__lte=F("quantity")), name="no_more_is_drawn_than_promised"),
            models.CheckConstraint(
                condition=Q(sizing__isnull=False) | ~Q(leads_reason=""), name="a_promise_says_what_it_rests_on"
            ),
            models.CheckConstraint(
                condition=~Q(state="held") | Q(keep_until__isnull=False), name="a_hold_says_how_long_it_lasts"
            ),
        ]
        indexes = [
            models.Index(fields=["pool", "state", "ends_at"], name="promises_of_a_pool"),
            models.Index(fields=["job", "state"], name="promises_of_a_job"),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} of {self.pool_id} for {self.job_id}"


class ReservationEntry(models.Model):
    """One entry of the reservations' journal; replaying them alone gives every Reservation row."""

    append_only = True

    class Kind(models.TextChoices):
        HOLD = "hold"
        CONFIRM = "confirm"
        EXTEND = "extend"
        SHORTEN = "shorten"
        RELEASE = "release"
        EXPIRE = "expire"
        DRAW = "draw"
        GIVE_BACK = "give_back"
        OVERRUN = "overrun"
        CLOSE = "close"

    key = models.UUIDField(unique=True)
    reservation = models.ForeignKey(Reservation, on_delete=models.PROTECT, related_name="entries")
    kind = models.CharField(max_length=10, choices=Kind)
    quantity = models.IntegerField(help_text="Promised after this entry.")
    drawn = models.IntegerField(help_text="Out after this entry.")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    keep_until = models.DateTimeField(null=True)
    reason = models.CharField(max_length=300, blank=True)
    at = models.DateTimeField()
    seal = models.CharField(max_length=64, default="")
    actor = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        indexes = [models.Index(fields=["reservation", "id"], name="entries_of_a_promise")]

    def __str__(self) -> str:
        return f"{self.kind} {self.quantity}"


class LoadList(models.Model):
    """What goes onto one vehicle before one departure. Written down here by whoever plans; the warehouse reads it."""

    class State(models.TextChoices):
        OPEN = "open", "to be loaded"
        LOADED = "loaded", "loaded"
        CANCELED = "canceled", "no longer wanted"

    vehicle = models.ForeignKey(Vehicle, on_delete=models.PROTECT, related_name="load_lists")
    warehouse = models.ForeignKey("equipment.Warehouse", on_delete=models.PROTECT, related_name="load_lists")
    departs_at = models.DateTimeField()
    crew_name = models.CharField(max_length=80, blank=True)
    state = models.CharField(max_length=10, choices=State, default=State.OPEN)
    made_at = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["warehouse", "state", "departs_at"], name="load_lists_by_departure")]

    def __str__(self) -> str:
        return f"{self.vehicle_id} at {self.departs_at:%Y-%m-%d %H:%M}"


class LoadLine(models.Model):
    """So many units of one model for one stop (`stop_order` 1 is the first stop: loaded last)."""

    load_list = models.ForeignKey(LoadList, on_delete=models.CASCADE, related_name="lines")
    model = models.ForeignKey(EquipmentModel, on_delete=models.PROTECT, related_name="+")
    job = models.ForeignKey(Job, null=True, blank=True, on_delete=models.PROTECT, related_name="load_lines")
    reservation = models.ForeignKey(
        Reservation, null=True, blank=True, on_delete=models.PROTECT, related_name="load_lines"
    )
    stop_order = models.PositiveSmallIntegerField(default=1)
    wanted = models.PositiveIntegerField()

    class Meta:
        ordering = ["-stop_order", "id"]

    def __str__(self) -> str:
        return f"{self.wanted} x {self.model_id}"


class LoadedUnit(models.Model):
    """A unit scanned onto a line, perhaps as an equivalent of the model that was asked for."""

    line = models.ForeignKey(LoadLine, on_delete=models.CASCADE, related_name="loaded")
    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["line", "unit"], name="a_unit_fills_a_line_once")]

    def __str__(self) -> str:
        return f"{self.unit_id} on {self.line_id}"
