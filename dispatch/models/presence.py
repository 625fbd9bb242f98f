"""Who has a call or a job open on the desk at this moment."""

from django.conf import settings
from django.db import models

from jobs.models import Area


class Presence(models.Model):
    """
    Somebody looks at something since `since`, and was there last at `seen_at`.

    Not a fact of the record: rows are overwritten, and one that was not seen for a while says nothing.
    """

    class Kind(models.TextChoices):
        CALL = "call", "call"
        JOB = "job", "job"

    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")
    area = models.ForeignKey(Area, on_delete=models.CASCADE, related_name="+")
    kind = models.CharField(max_length=4, choices=Kind)
    subject_id = models.PositiveBigIntegerField()
    since = models.DateTimeField()
    seen_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["kind", "subject_id", "user"], name="somebody_is_once_at_a_thing"),
        ]

    def __str__(self) -> str:
        return f"{self.user_id} at {self.kind} {self.subject_id}"
