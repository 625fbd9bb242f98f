"""The journal: what happened, in order, without names, codes or health notes."""

from django.conf import settings
from django.db import models

from jobs.models.area import Area
from jobs.models.job import Job


class JournalEntry(models.Model):
    """One thing that happened. Upper apps read the journal and react; `kind` and `data` are stable words."""

    append_only = True

    area = models.ForeignKey(Area, on_delete=models.PROTECT, related_name="+")
    job = models.ForeignKey(Job, null=True, blank=True, on_delete=models.PROTECT, related_name="journal")
    kind = models.CharField(max_length=40)
    happened_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    actor = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    data = models.JSONField(default=dict)

    class Meta:
        indexes = [
            models.Index(fields=["job", "happened_at"], name="journal_of_a_job"),
            models.Index(fields=["area", "happened_at"], name="journal_of_an_area"),
        ]

    def __str__(self) -> str:
        return f"{self.happened_at:%Y-%m-%d %H:%M} {self.kind}"
