"""Equipment models, numbered units, and the custody journal."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from equipment.models.loans import Loan
from equipment.models.places import Holder
from jobs.models import Job


class EquipmentModel(models.Model):
    """
    One model of machine, with what its data plate says. `kind` is ports.md's word, or `generator`.

    Machines that another firm lends are a model of their own for each loan, so that they have stock rows of their own.
    """

    code = models.SlugField(max_length=40, unique=True)
    name = models.CharField(max_length=80)
    kind = models.CharField(max_length=20)
    rated_pints_per_day = models.FloatField(null=True, blank=True, help_text="At 80 °F and 60 % RH.")
    process_cfm = models.FloatField(null=True, blank=True)
    airflow_cfm = models.FloatField(null=True, blank=True, help_text="Air filtration: with a loaded filter.")
    outlets = models.PositiveIntegerField(null=True, blank=True)
    covers_sqft = models.FloatField(null=True, blank=True)
    running_a = models.FloatField()
    volume_cuft = models.FloatField()
    weight_lb = models.FloatField()
    service_hours = models.PositiveIntegerField(null=True, blank=True)
    replacement_cost = models.DecimalField(
        max_digits=9, decimal_places=2, null=True, blank=True, help_text="Dollars; what use is weighted by."
    )
    loan = models.ForeignKey(Loan, null=True, blank=True, on_delete=models.PROTECT, related_name="models")
    equivalents = models.ManyToManyField("self", blank=True, symmetrical=True)

    class Meta:
        ordering = ["kind", "code"]

    def __str__(self) -> str:
        return self.name


class Unit(models.Model):
    """One machine with its own number. A rented unit has our number and the supplier's."""

    number = models.CharField(max_length=12, unique=True)
    model = models.ForeignKey(EquipmentModel, on_delete=models.PROTECT, related_name="units")
    rented = models.BooleanField(default=False)
    supplier = models.CharField(max_length=80, blank=True)
    supplier_number = models.CharField(max_length=40, blank=True)
    daily_cost = models.DecimalField(max_digits=8, decimal_places=2, null=True, blank=True)
    call_off_number = models.CharField(max_length=40, blank=True)
    called_off_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["number"]

    def __str__(self) -> str:
        return self.number


class Pool(models.Model):
    """
    The stock row of one model at one place (warehouse or vehicle): locked before anything is promised from it.

    `stock` counts the units that belong here and can work: ready here, or out on a reservation drawn from here.
    `counted_away`: so many of them somebody counted by model onto a vehicle, whose numbers are still to come, and that
    no load list of that vehicle accounts for. They are promised to nobody until the numbers say which they were.
    """

    model = models.ForeignKey(EquipmentModel, on_delete=models.PROTECT, related_name="pools")
    place = models.ForeignKey(Holder, on_delete=models.PROTECT, related_name="pools")
    stock = models.IntegerField(default=0)
    counted_away = models.PositiveIntegerField(default=0)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["model", "place"], name="one_stock_row_for_a_model_at_a_place"),
            models.CheckConstraint(condition=Q(stock__gte=0), name="stock_is_never_negative"),
        ]

    def __str__(self) -> str:
        return f"{self.model_id} at {self.place_id}: {self.stock}"


class Condition(models.TextChoices):
    """The plain words for what state a unit is in."""

    READY = "ready", "ready"
    IN_USE = "in_use", "in use at a job"
    NOT_YET_CLEANED = "not_yet_cleaned", "not yet cleaned"
    HELD_BACK = "held_back", "held back: category 3 water, not yet decontaminated"
    BROKEN = "broken", "needs repair"


class UnitNow(models.Model):
    """Where a unit is and how it is: the current-state row of the custody journal, written by `custody` alone."""

    unit = models.OneToOneField(Unit, primary_key=True, on_delete=models.PROTECT, related_name="now")
    holder = models.ForeignKey(Holder, on_delete=models.PROTECT, related_name="units_now")
    room_name = models.CharField(max_length=60, blank=True)
    condition = models.CharField(max_length=20, choices=Condition)
    pool = models.ForeignKey(Pool, null=True, blank=True, on_delete=models.PROTECT, related_name="units_now")
    reservation = models.ForeignKey(
        "equipment.Reservation", null=True, blank=True, on_delete=models.PROTECT, related_name="units_out"
    )
    water_category = models.PositiveSmallIntegerField(null=True, blank=True)
    hour_meter = models.FloatField(null=True, blank=True)
    since = models.DateTimeField()
    seal = models.CharField(max_length=64, default="", help_text="Of the unit's last entry.")
    seen_at = models.DateTimeField()
    seen_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        indexes = [models.Index(fields=["holder", "condition"], name="units_with_a_holder")]

    def __str__(self) -> str:
        return f"{self.unit_id} with {self.holder_id}"


class Move(models.Model):
    """
    One entry of the custody journal: a unit goes from one holder to another, or changes its condition where it is.

    `happened_at` is when it was done, `recorded_at` when we learned of it; late entries settle by `happened_at`.
    `from_holder` is what the record said when the entry was written. `reservation` is what the unit is out on
    afterwards. An entry that is corrected counts no more; the correction stands in its place.
    """

    append_only = True

    class Why(models.TextChoices):
        OPENING = "opening", "first entry"
        LOADED = "loaded", "loaded"
        UNLOADED = "unloaded", "unloaded"
        PLACED = "placed", "placed at a job"
        TAKEN_UP = "taken_up", "taken up from a job"
        JOB_TO_JOB = "job_to_job", "moved between jobs"
        SENT = "sent", "sent to another warehouse"
        RECEIVED = "received", "received"
        CONDITION = "condition", "cleaned, tested or held back"
        REPAIR = "repair", "to or from repair"
        RENTED_IN = "rented_in", "rented in"
        CALLED_OFF = "called_off", "called off"
        NOT_FOUND = "not_found", "not found"
        FOUND = "found", "found"
        CORRECTION = "correction", "correction"
        GONE = "gone", "sold or scrapped"

    key = models.UUIDField(unique=True)
    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="moves")
    why = models.CharField(max_length=12, choices=Why)
    from_holder = models.ForeignKey(Holder, null=True, on_delete=models.PROTECT, related_name="moves_out")
    to_holder = models.ForeignKey(Holder, on_delete=models.PROTECT, related_name="moves_in")
    room_name = models.CharField(max_length=60, blank=True)
    reservation = models.ForeignKey(
        "equipment.Reservation", null=True, blank=True, on_delete=models.PROTECT, related_name="moves"
    )
    condition_after = models.CharField(max_length=20, choices=Condition)
    water_category = models.PositiveSmallIntegerField(null=True, blank=True)
    hour_meter = models.FloatField(null=True, blank=True)
    happened_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    actor = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    note = models.CharField(max_length=200, blank=True)
    seal = models.CharField(max_length=64, default="")
    corrects = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="corrected_by"
    )

    class Meta:
        indexes = [
            models.Index(fields=["unit", "happened_at", "id"], name="moves_of_a_unit"),
            models.Index(fields=["to_holder", "happened_at"], name="moves_to_a_holder"),
            models.Index(fields=["from_holder", "happened_at"], name="moves_from_a_holder"),
        ]

    def __str__(self) -> str:
        return f"{self.unit_id} {self.why} {self.happened_at:%Y-%m-%d %H:%M}"


class Discrepancy(models.Model):
    """The floor and the record disagreed; the floor won. Explained at a quiet time."""

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="discrepancies")
    move = models.ForeignKey(Move, null=True, on_delete=models.PROTECT, related_name="discrepancies")
    said = models.CharField(max_length=200, help_text="What the record said.")
    found = models.CharField(max_length=200, help_text="What the floor showed.")
    opened_at = models.DateTimeField()
    settled_at = models.DateTimeField(null=True, blank=True)
    explanation = models.CharField(max_length=300, blank=True)

    def __str__(self) -> str:
        return f"{self.unit_id}: {self.found}"


class Alarm(models.Model):
    """Something that must be looked at: shown on the desk until somebody says what was done."""

    area = models.ForeignKey("jobs.Area", on_delete=models.PROTECT, related_name="alarms")
    kind = models.CharField(max_length=40)
    text = models.CharField(max_length=300)
    job = models.ForeignKey(Job, null=True, blank=True, on_delete=models.PROTECT, related_name="alarms")
    raised_at = models.DateTimeField()
    settled_at = models.DateTimeField(null=True, blank=True)
    settled_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    what_was_done = models.CharField(max_length=300, blank=True)

    class Meta:
        indexes = [models.Index(fields=["area", "settled_at", "raised_at"], name="open_alarms_of_an_area")]

    def __str__(self) -> str:
        return self.text


class CountedStock(models.Model):
    """Counted accessories and consumables at a place (cords, hoses, poly, filters), with the least there should be."""

    place = models.ForeignKey(Holder, on_delete=models.PROTECT, related_name="counted")
    item = models.CharField(max_length=60)
    unit_word = models.CharField(max_length=20, default="each")
    quantity = models.PositiveIntegerField()
    minimum = models.PositiveIntegerField(default=0)
    counted_at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["place", "item"], name="an_item_is_counted_once_at_a_place")]

    def __str__(self) -> str:
        return f"{self.quantity} {self.item}"
