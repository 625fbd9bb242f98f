"""Payers and the rules that they, and the states, set: data with a source and dates, never constants in code."""

from django.db import models
from django.db.models import F, Q


class Sourced(models.Model):
    """A figure that a law, a standard or a payer sets: where it stands, how sure we are, when it holds."""

    class Confidence(models.TextChoices):
        PUBLISHED = "published"
        PRACTICE = "practice"
        MEMORY = "memory"
        DEMO = "demo"

    source = models.CharField(max_length=200)
    edition = models.CharField(max_length=80, blank=True)
    confidence = models.CharField(max_length=10, choices=Confidence)
    valid_from = models.DateField()
    valid_until = models.DateField(null=True, blank=True, help_text="First day on which it no longer holds.")
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        abstract = True
        constraints = [
            models.CheckConstraint(
                condition=Q(valid_until__isnull=True) | Q(valid_until__gt=F("valid_from")),
                name="%(app_label)s_%(class)s_holds_for_at_least_a_day",
            ),
        ]


class Payer(models.Model):
    """Who pays: an insurer, a program, a service agreement, or the customer."""

    code = models.SlugField(max_length=30, unique=True)
    name = models.CharField(max_length=80)
    kind = models.CharField(max_length=30, blank=True)

    def __str__(self) -> str:
        return self.name


class PayerRule(Sourced):
    """One payer's clocks and its way of counting equipment-days."""

    class DayCount(models.TextChoices):
        COMPLETED = "completed_24h", "completed 24 hours"
        STARTED = "started_24h", "started 24 hours"
        CALENDAR = "calendar_days", "calendar days"

    payer = models.ForeignKey(Payer, on_delete=models.CASCADE, related_name="rules")
    contact_minutes = models.PositiveIntegerField(null=True, blank=True)
    arrival_minutes = models.PositiveIntegerField(null=True, blank=True)
    visit_hours = models.PositiveIntegerField(
        null=True, blank=True, help_text="Most hours from one visit to the next, until dry."
    )
    report_hours = models.PositiveIntegerField(null=True, blank=True)
    day_count = models.CharField(max_length=20, choices=DayCount, default=DayCount.STARTED)
    by_room = models.BooleanField(default=False)

    class Meta(Sourced.Meta):
        pass

    def __str__(self) -> str:
        return f"{self.payer} from {self.valid_from}"


class StateRule(Sourced):
    """One rule of one state, by topic: `recording_consent`, `lead_program`, `who_signs`, `mold_license_sqft`, ..."""

    state = models.CharField(max_length=2)
    topic = models.SlugField(max_length=40)
    value = models.JSONField()

    class Meta(Sourced.Meta):
        indexes = [models.Index(fields=["state", "topic"], name="rules_of_a_state")]

    def __str__(self) -> str:
        return f"{self.state} {self.topic} from {self.valid_from}"
