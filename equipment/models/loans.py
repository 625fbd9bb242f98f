"""What other firms lend: a crew or machines for a time, agreed between two people."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from jobs.models import Area


class Loan(models.Model):
    """
    One loan over [`starts_at`, `ends_at`), or up to `ended_at` where it was ended before.

    What is lent is marked by it wherever it stands (models of units, vehicles; crews in the app above), so that it is
    never counted among our own.
    """

    area = models.ForeignKey(Area, on_delete=models.PROTECT, related_name="loans")
    firm = models.CharField(max_length=60)
    agreed_with = models.CharField(max_length=80, help_text="Who at the other firm agreed to it.")
    agreed_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    agreed_at = models.DateTimeField()
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(ends_at__gt=F("starts_at")), name="a_loan_ends_after_it_starts"),
        ]
        indexes = [models.Index(fields=["area", "ended_at", "ends_at"], name="loans_of_an_area")]

    def __str__(self) -> str:
        return f"lent by {self.firm}"
