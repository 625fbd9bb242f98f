"""The stored record of each use-case call, from which a night can be replayed."""

from django.conf import settings
from django.db import models


class UseCaseCall(models.Model):
    """
    What was asked, with which arguments, by whom, at what `now`, and what came of it.

    Names, numbers, access codes and health notes stand in `private_arguments`, which is erased on schedule.
    """

    class Outcome(models.TextChoices):
        DONE = "done"
        REFUSED = "refused"

    key = models.UUIDField()
    verb = models.CharField(max_length=40)
    actor = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    now = models.DateTimeField()
    recorded_at = models.DateTimeField(auto_now_add=True)
    arguments = models.JSONField(default=dict)
    private_arguments = models.JSONField(null=True)
    fingerprint = models.CharField(max_length=64)
    outcome = models.CharField(max_length=10, choices=Outcome, default=Outcome.DONE)
    answer = models.JSONField(null=True)
    refusal = models.JSONField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["key"], condition=models.Q(outcome="done"), name="a_key_stands_for_one_answer"
            ),
        ]
        indexes = [models.Index(fields=["now", "id"], name="calls_in_order")]

    def __str__(self) -> str:
        return f"{self.now:%Y-%m-%d %H:%M} {self.verb} ({self.outcome})"
