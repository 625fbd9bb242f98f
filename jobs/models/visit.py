"""Visits: what is due at a job, and what came of it."""

from django.db import models
from django.db.models import Q

from jobs.models.job import Job


class Visit(models.Model):
    """
    One visit to a job. `window` is promised to the customer; `promised_start` is the published arrival.

    `needs` = {"skills": [...], "deliver": {kind: n}, "collect": {kind: n}} in the planner's words.
    """

    class Kind(models.TextChoices):
        EMERGENCY = "emergency", "first visit tonight"
        FIRST = "first", "first visit"
        MONITORING = "monitoring", "monitoring"
        PICK_UP = "pick_up", "pick-up"
        DELIVERY = "delivery", "delivery"
        REFUEL = "refuel", "refueling"
        INSPECTION = "inspection", "inspection"

    class State(models.TextChoices):
        DUE = "due", "due"
        UNDER_WAY = "under_way", "under way"
        DONE = "done", "done"
        MISSED = "missed", "missed"
        CANNOT_WORK = "cannot_work", "could not work"
        CANCELED = "canceled", "no longer needed"

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="visits")
    kind = models.CharField(max_length=12, choices=Kind)
    state = models.CharField(max_length=12, choices=State, default=State.DUE)
    due_on = models.DateField(help_text="The day, in the job's own time zone.")
    window_from = models.DateTimeField(null=True, blank=True)
    window_until = models.DateTimeField(null=True, blank=True)
    due_at = models.DateTimeField(null=True, blank=True)
    promised_start = models.DateTimeField(null=True, blank=True)
    service_s = models.PositiveIntegerField()
    needs = models.JSONField(default=dict)
    note = models.CharField(max_length=300, blank=True)
    left_at = models.DateTimeField(null=True, blank=True)
    arrived_at = models.DateTimeField(null=True, blank=True)
    finished_at = models.DateTimeField(null=True, blank=True)
    reason = models.CharField(max_length=300, blank=True)
    told = models.CharField(max_length=120, blank=True)
    follows = models.ForeignKey("self", null=True, blank=True, on_delete=models.PROTECT, related_name="followed_by")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(window_from__isnull=True, window_until__isnull=True)
                | Q(window_until__gte=models.F("window_from")),
                name="a_promised_window_has_both_ends_in_order",
            ),
            models.CheckConstraint(
                condition=~Q(state__in=["missed", "cannot_work"]) | ~Q(reason=""), name="a_missed_visit_has_its_reason"
            ),
        ]
        indexes = [
            models.Index(fields=["due_on", "state"], name="visits_due_on_a_day"),
            models.Index(fields=["job", "state"], name="visits_of_a_job"),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} on {self.due_on}"

    @property
    def kind_words(self) -> str:
        """What kind of visit it is; one that only stabilizes is said to."""
        words = str(self.get_kind_display())
        return f"{words}, stabilizing" if self.needs.get("stabilizing") else words
