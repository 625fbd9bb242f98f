"""What the office billed of a job's equipment, to be held against the log."""

from django.conf import settings
from django.db import models

from equipment.models.stock import EquipmentModel
from jobs.models import Job


class BilledDays(models.Model):
    """Equipment-days of one model on one job's bill. The newest entry of a job stands in the place of all before."""

    append_only = True

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="billed_days")
    model = models.ForeignKey(EquipmentModel, on_delete=models.PROTECT, related_name="+")
    days = models.PositiveIntegerField()
    entry = models.UUIDField(help_text="The same for all that was entered at once.")
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["entry", "job", "model"], name="a_model_stands_once_on_an_entry"),
        ]
        indexes = [models.Index(fields=["job", "id"], name="billed_days_of_a_job")]

    def __str__(self) -> str:
        return f"{self.job_id}: {self.days} days of {self.model_id}"
