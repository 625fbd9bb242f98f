"""Timed and background work as rows."""

from django.db import models
from django.db.models import Q


class DueWork(models.Model):
    """
    One piece of work to be done at or after `due_at`.

    `attempts` counts claims and fences a worker that lost its lease. Pending rows with the same coalescing key are one.
    """

    class State(models.TextChoices):
        PENDING = "pending"
        RUNNING = "running"
        DONE = "done"
        FAILED = "failed"
        CANCELED = "canceled"

    kind = models.CharField(max_length=60)
    arguments = models.JSONField(default=dict)
    due_at = models.DateTimeField()
    state = models.CharField(max_length=10, choices=State, default=State.PENDING)
    attempts = models.PositiveIntegerField(default=0)
    lease_until = models.DateTimeField(null=True)
    coalesce = models.CharField(max_length=200, null=True)  # noqa: DJ001 (null: never coalesced)
    made_at = models.DateTimeField()
    finished_at = models.DateTimeField(null=True)
    result = models.JSONField(null=True)
    error = models.TextField(blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["coalesce"], condition=Q(state="pending"), name="pending_work_with_one_key_is_one_row"
            ),
            models.CheckConstraint(
                condition=~Q(state="running") | Q(lease_until__isnull=False), name="running_work_has_a_lease"
            ),
        ]
        indexes = [
            models.Index(fields=["due_at"], condition=Q(state__in=["pending", "running"]), name="work_that_is_due"),
        ]

    def __str__(self) -> str:
        return f"{self.kind} due {self.due_at:%Y-%m-%d %H:%M:%S} ({self.state})"
