"""Crews, their plans and their routes."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from dispatch.models.people import Person
from equipment.models import Loan, Vehicle, Warehouse
from jobs.models import Area, Visit
from jobs.no_overlap import NoOverlap


class Crew(models.Model):
    """A lead, perhaps a helper, and a vehicle, for some hours. `service_day` is the day its route belongs to."""

    area = models.ForeignKey(Area, on_delete=models.PROTECT, related_name="crews")
    service_day = models.DateField()
    name = models.CharField(max_length=40)
    lead = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="crews_led")
    helper = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT, related_name="crews_helped")
    vehicle = models.ForeignKey(Vehicle, on_delete=models.PROTECT, related_name="crews")
    start = models.ForeignKey(Warehouse, on_delete=models.PROTECT, related_name="+")
    end = models.ForeignKey(Warehouse, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    at_latest = models.DateTimeField()
    on_call = models.BooleanField(default=False, help_text="Asked before it is counted on.")
    loan = models.ForeignKey(Loan, null=True, blank=True, on_delete=models.PROTECT, related_name="crews")

    class Meta:
        ordering = ["service_day", "name"]
        constraints = [
            models.CheckConstraint(
                condition=Q(ends_at__gt=F("starts_at"), at_latest__gte=F("ends_at")), name="a_crew_ends_after_it_starts"
            ),
            models.UniqueConstraint(
                fields=["area", "service_day", "name"], name="crews_of_a_day_have_names_of_their_own"
            ),
            NoOverlap(
                name="a_vehicle_has_one_crew_at_a_time",
                resource="vehicle_id",
                violation_error_message="This vehicle already has a crew in these hours.",
            ),
            NoOverlap(
                name="a_lead_has_one_crew_at_a_time",
                resource="lead_id",
                violation_error_message="This lead already has a crew in these hours.",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Plan(models.Model):
    """A day plan as asked for and answered: problem, seed, limit and outcome, so that a bad day becomes a test."""

    class State(models.TextChoices):
        ASKED = "asked", "being worked out"
        DRAFT = "draft", "ready to look at"
        PUBLISHED = "published", "published"
        WITHDRAWN = "withdrawn", "taken back"
        FAILED = "failed", "could not be worked out"

    area = models.ForeignKey(Area, on_delete=models.PROTECT, related_name="plans")
    service_day = models.DateField()
    state = models.CharField(max_length=10, choices=State, default=State.ASKED)
    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    seconds = models.PositiveIntegerField(null=True)
    iterations = models.PositiveIntegerField(null=True)
    seed = models.PositiveIntegerField(default=1)
    problem = models.JSONField(null=True)
    outcome = models.JSONField(null=True)
    progress = models.JSONField(default=dict)
    published_at = models.DateTimeField(null=True)
    failure = models.CharField(max_length=300, blank=True)

    class Meta:
        indexes = [models.Index(fields=["area", "service_day", "state"], name="plans_of_a_day")]

    def __str__(self) -> str:
        return f"plan for {self.service_day} ({self.state})"


class Stop(models.Model):
    """One visit on one crew's published route."""

    crew = models.ForeignKey(Crew, on_delete=models.CASCADE, related_name="stops")
    visit = models.OneToOneField(Visit, on_delete=models.CASCADE, related_name="stop")
    position = models.PositiveSmallIntegerField()
    arrive_at = models.DateTimeField()
    start_at = models.DateTimeField()
    leave_at = models.DateTimeField()
    fetch_from = models.ForeignKey(Warehouse, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    fetch_at = models.DateTimeField(null=True, blank=True, help_text="When the crew is at the warehouse to load.")
    fetched_at = models.DateTimeField(null=True, blank=True)
    plan = models.ForeignKey(Plan, null=True, blank=True, on_delete=models.SET_NULL, related_name="stops")

    class Meta:
        ordering = ["crew", "position"]
        indexes = [models.Index(fields=["crew", "position"], name="stops_of_a_crew")]

    def __str__(self) -> str:
        return f"{self.position}: {self.visit_id}"
