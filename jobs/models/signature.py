"""Signatures on a job's record: what was authorized, by whom, on which form of which state."""

from django.conf import settings
from django.db import models

from jobs.models.job import Job
from jobs.models.visit import Visit


class Signature(models.Model):
    """One signature. Who signed by name, and the drawing, stand apart (`SignedBy`), so that they can be erased."""

    append_only = True

    class How(models.TextChoices):
        DRAWN = "drawn", "drawn on the device"
        TYPED = "typed", "name typed by the signer"

    key = models.UUIDField(unique=True)
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="signatures")
    visit = models.ForeignKey(Visit, null=True, on_delete=models.PROTECT, related_name="signatures")
    what = models.SlugField(max_length=40)
    role = models.SlugField(max_length=30)
    state = models.CharField(max_length=2)
    form = models.CharField(max_length=80, blank=True)
    form_edition = models.CharField(max_length=80, blank=True)
    rule_source = models.CharField(max_length=200, blank=True)
    rule_confidence = models.CharField(max_length=10, blank=True)
    limits = models.CharField(max_length=300, blank=True)
    how = models.CharField(max_length=5, choices=How)
    digest = models.CharField(max_length=64, help_text="SHA-256 of the name and the drawing.")
    signed_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    taken_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        indexes = [models.Index(fields=["job", "signed_at"], name="signatures_of_a_job")]

    def __str__(self) -> str:
        return f"{self.what} of {self.job_id} by {self.role}"


class SignedBy(models.Model):
    """The signer's name and drawing (SVG path data in a box of 600 by 200)."""

    signature = models.OneToOneField(Signature, primary_key=True, on_delete=models.PROTECT, related_name="by")
    name = models.CharField(max_length=80)
    drawing = models.TextField(blank=True)

    def __str__(self) -> str:
        return f"signer of {self.signature_id}"
