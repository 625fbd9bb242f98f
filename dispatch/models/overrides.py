"""A manager's word against a rule of who may go."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from dispatch.models.crews import Crew
from dispatch.models.people import Person
from jobs.models import Area, Call, Job


class Override(models.Model):
    """
    For one loss, one crew as it was made up then, and the reasons that stood then; another pair needs its own word.

    `rules` = [{"rule", "who", "message"}]: a reason that comes up later is not covered.
    """

    append_only = True

    area = models.ForeignKey(Area, on_delete=models.PROTECT, related_name="overrides")
    call = models.ForeignKey(Call, null=True, on_delete=models.PROTECT, related_name="overrides")
    job = models.ForeignKey(Job, null=True, on_delete=models.PROTECT, related_name="overrides")
    crew = models.ForeignKey(Crew, on_delete=models.PROTECT, related_name="overrides")
    lead = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    helper = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")
    rules = models.JSONField()
    reason = models.CharField(max_length=300)
    said_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    said_at = models.DateTimeField()
    until = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(call__isnull=True, job__isnull=False) | Q(call__isnull=False, job__isnull=True),
                name="an_override_is_for_one_loss",
            ),
            models.CheckConstraint(condition=Q(until__gt=F("said_at")), name="an_override_ends_after_it_is_said"),
        ]
        indexes = [
            models.Index(fields=["crew", "until"], name="overrides_of_a_crew"),
            models.Index(fields=["area", "said_at"], name="overrides_of_an_area"),
        ]

    def __str__(self) -> str:
        return f"{self.crew_id} by {self.said_by_id} until {self.until:%Y-%m-%d %H:%M}"
