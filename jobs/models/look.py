"""Who looked at private facts: names, numbers, access codes, care needs."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from jobs.models.call import Call
from jobs.models.job import Job


class PrivateLook(models.Model):
    """One person who opened a page, or asked an address, that shows private facts of a call or a job."""

    viewer = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    call = models.ForeignKey(Call, null=True, on_delete=models.CASCADE, related_name="looks")
    job = models.ForeignKey(Job, null=True, on_delete=models.CASCADE, related_name="looks")
    what = models.CharField(max_length=60, help_text="The page or address, as a pattern.")
    looked_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(call__isnull=False) | Q(job__isnull=False), name="a_look_is_at_a_call_or_a_job"
            ),
        ]
        indexes = [models.Index(fields=["-looked_at"], name="looks_newest_first")]

    def __str__(self) -> str:
        return f"{self.viewer_id} at {self.what}"
