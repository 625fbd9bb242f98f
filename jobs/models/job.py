"""A job: one loss at one place, with its people and its wet rooms."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from jobs.models.area import Area
from jobs.models.payer import Payer


class Job(models.Model):
    """One loss being dried. Category and class of water are suggestions until the lead has spoken."""

    class Stage(models.TextChoices):
        WAITING = "waiting", "waiting for a crew"
        SENT = "sent", "crew sent"
        DRYING = "drying", "drying"
        AT_GOAL = "at_goal", "dry, waiting for pick-up"
        PICKED_UP = "picked_up", "equipment picked up"
        CLOSED = "closed", "closed"

    class Running(models.TextChoices):
        RUNNING = "running", "still running"
        STOPPED = "stopped", "stopped"
        UNKNOWN = "unknown", "not known"

    class Power(models.TextChoices):
        ON = "on", "on"
        OFF = "off", "off"
        UNKNOWN = "unknown", "not known"

    area = models.ForeignKey(Area, on_delete=models.PROTECT, related_name="jobs")
    number = models.CharField(max_length=20, unique=True)
    stage = models.CharField(max_length=12, choices=Stage, default=Stage.WAITING)
    opened_at = models.DateTimeField()
    closed_at = models.DateTimeField(null=True, blank=True)

    street = models.CharField(max_length=120)
    unit = models.CharField(max_length=20, blank=True)
    town = models.CharField(max_length=60)
    state = models.CharField(max_length=2)
    zip_code = models.CharField(max_length=10, blank=True)
    county = models.CharField(max_length=60, blank=True)
    time_zone = models.CharField(max_length=50)
    lat = models.FloatField()
    lon = models.FloatField()
    elevation_ft = models.IntegerField(default=0)

    water_source = models.CharField(max_length=30, blank=True)
    running = models.CharField(max_length=10, choices=Running, default=Running.UNKNOWN)
    power = models.CharField(max_length=10, choices=Power, default=Power.UNKNOWN)
    category = models.PositiveSmallIntegerField(null=True, blank=True)
    building = models.CharField(max_length=40, blank=True)
    year_built = models.PositiveIntegerField(null=True, blank=True)
    dwelling_units = models.PositiveIntegerField(default=1)
    began_at = models.DateTimeField(null=True, blank=True)
    hazards = models.JSONField(default=list)
    language = models.CharField(max_length=40, blank=True)
    circuits = models.JSONField(default=list)

    payer = models.ForeignKey(Payer, null=True, blank=True, on_delete=models.PROTECT, related_name="jobs")
    claim_number = models.CharField(max_length=40, blank=True)
    referred_by = models.CharField(max_length=80, blank=True)
    authorized_at = models.DateTimeField(null=True, blank=True)
    authorized_limits = models.CharField(max_length=300, blank=True)
    joined_to = models.ForeignKey(
        "self",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="joined",
        help_text="The job of the same loss that goes on in its place.",
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(category__in=[1, 2, 3]) | Q(category__isnull=True), name="category_is_1_2_or_3"
            ),
            models.CheckConstraint(
                condition=Q(stage="closed", closed_at__isnull=False) | (~Q(stage="closed") & Q(closed_at__isnull=True)),
                name="a_closed_job_has_its_time",
            ),
            models.CheckConstraint(
                condition=Q(joined_to__isnull=True) | Q(stage="closed"), name="a_joined_job_has_ended"
            ),
        ]
        indexes = [models.Index(fields=["area", "stage"], name="jobs_of_an_area_by_stage")]

    def __str__(self) -> str:
        return f"{self.number} {self.street}, {self.town}"


class WaysToReach(models.TextChoices):
    """How a message goes to somebody."""

    UNSAID = "", "as usual here"
    SMS = "sms", "text message"
    EMAIL = "email", "e-mail"
    CONSOLE = "console", "only the log of the program"


class Contact(models.Model):
    """Someone who belongs to the job: owner, tenant, neighbor, insurer. Erased on schedule."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="contacts")
    role = models.CharField(max_length=30)
    name = models.CharField(max_length=80, blank=True)
    phone = models.CharField(max_length=20, blank=True)
    email = models.EmailField(blank=True)
    reach_by = models.CharField(max_length=10, blank=True, choices=WaysToReach, help_text="How messages go to them.")
    can_sign = models.BooleanField(default=False)
    lets_in = models.BooleanField(default=False)

    class Meta:
        indexes = [models.Index(fields=["phone"], name="contacts_by_phone")]

    def __str__(self) -> str:
        return f"{self.role} of {self.job_id}"


class PrivateFacts(models.Model):
    """Access codes and care needs: for the assigned crew, for the job's life, then erased."""

    job = models.OneToOneField(Job, on_delete=models.CASCADE, related_name="private_facts")
    access = models.TextField(blank=True)
    care = models.TextField(blank=True)
    erased_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return f"private facts of {self.job_id}"


class Chamber(models.Model):
    """A drying chamber: the air that one set of machines dries."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="chambers")
    name = models.CharField(max_length=60)
    dehumidifier = models.CharField(max_length=20, default="lgr")
    class_set = models.PositiveSmallIntegerField(null=True, blank=True)
    bound_water = models.BooleanField(default=False)
    crawl_space = models.BooleanField(default=False)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["job", "name"], name="chambers_of_a_job_have_names_of_their_own")
        ]

    def __str__(self) -> str:
        return self.name


class Room(models.Model):
    """A wet room, with the measures that sizing asks for (ports.md names)."""

    chamber = models.ForeignKey(Chamber, on_delete=models.CASCADE, related_name="rooms")
    position = models.PositiveSmallIntegerField(default=0)
    name = models.CharField(max_length=60)
    measures = models.JSONField(default=dict)

    class Meta:
        ordering = ["position", "id"]
        constraints = [
            models.UniqueConstraint(fields=["chamber", "name"], name="rooms_of_a_chamber_have_names_of_their_own")
        ]

    def __str__(self) -> str:
        return self.name


class LeadsWord(models.Model):
    """What the lead decided beside what the program suggested, with the reason; never written over the suggestion."""

    append_only = True

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="leads_words")
    topic = models.CharField(max_length=100)
    suggestion = models.JSONField(null=True)
    word = models.JSONField()
    reason = models.CharField(max_length=300)
    said_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    said_at = models.DateTimeField()

    class Meta:
        ordering = [F("said_at").asc(), "id"]

    def __str__(self) -> str:
        return f"{self.topic}: {self.word}"
