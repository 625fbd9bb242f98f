"""Photos on a job's record; the files lie apart, by digest."""

from django.conf import settings
from django.db import models

from jobs.models.job import Job
from jobs.models.visit import Visit


class Photo(models.Model):
    """One photo: of which room, when, by whom. Several rows may name one file."""

    append_only = True

    key = models.UUIDField(unique=True)
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="photos")
    visit = models.ForeignKey(Visit, null=True, on_delete=models.PROTECT, related_name="photos")
    room_name = models.CharField(max_length=60, blank=True)
    note = models.CharField(max_length=200, blank=True)
    taken_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    taken_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    digest = models.CharField(max_length=64)
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()

    class Meta:
        indexes = [models.Index(fields=["job", "taken_at"], name="photos_of_a_job")]

    def __str__(self) -> str:
        return f"photo {self.pk} of {self.job_id}"
