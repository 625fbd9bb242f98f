"""The call being taken: saved field by field, complete or not."""

from django.conf import settings
from django.db import models

from jobs.models.area import Area
from jobs.models.job import Job


class Call(models.Model):
    """
    One ringing phone. `answers` and `private_answers` hold what was typed, by field; `versions` counts saves.

    Private answers (names, numbers, access, care) are erased on schedule; the rest stays.
    """

    class EndedAs(models.TextChoices):
        SENT = "sent", "crew sent"
        BOOKED = "booked", "visit booked"
        KNOWN_JOB = "known_job", "belongs to a job we have"
        NO_CREW = "no_crew", "no crew needed"

    area = models.ForeignKey(Area, on_delete=models.PROTECT, related_name="calls")
    started_at = models.DateTimeField()
    taken_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    answers = models.JSONField(default=dict)
    private_answers = models.JSONField(default=dict)
    versions = models.JSONField(default=dict)
    rooms = models.JSONField(default=list)
    next_contact_at = models.DateTimeField(null=True, blank=True)
    owner = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    touched_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_as = models.CharField(max_length=12, choices=EndedAs, blank=True)
    end_reason = models.CharField(max_length=300, blank=True)
    job = models.ForeignKey(Job, null=True, blank=True, on_delete=models.PROTECT, related_name="calls")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(ended_at__isnull=True) | ~models.Q(ended_as=""), name="an_ended_call_says_how"
            ),
        ]
        indexes = [models.Index(fields=["area", "ended_at", "started_at"], name="open_calls_of_an_area")]

    def __str__(self) -> str:
        return f"call of {self.started_at:%Y-%m-%d %H:%M}"


class UrgencyWord(models.Model):
    """What a manager decided about a call's urgency, beside what was suggested then, with the reason."""

    append_only = True

    call = models.ForeignKey(Call, on_delete=models.PROTECT, related_name="urgency_words")
    suggestion = models.CharField(max_length=30, blank=True)
    level = models.CharField(max_length=30)
    reason = models.CharField(max_length=200)
    said_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    said_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.level} for {self.call_id}"
