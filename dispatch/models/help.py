"""One area asks another for a crew."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from dispatch.models.crews import Crew
from jobs.models import Area


class HelpRequest(models.Model):
    """A crew wanted for one day; given, it works for the area that asked, and its route is that area's to plan."""

    class State(models.TextChoices):
        ASKED = "asked", "waiting for an answer"
        GIVEN = "given", "given"
        DECLINED = "declined", "declined"
        TAKEN_BACK = "taken_back", "no longer needed"

    key = models.UUIDField(unique=True)
    area = models.ForeignKey(Area, on_delete=models.PROTECT, related_name="help_asked")
    of_area = models.ForeignKey(Area, on_delete=models.PROTECT, related_name="help_wanted")
    day = models.DateField()
    why = models.CharField(max_length=200)
    state = models.CharField(max_length=10, choices=State, default=State.ASKED)
    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    answered_at = models.DateTimeField(null=True, blank=True)
    answered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    reason = models.CharField(max_length=200, blank=True)
    crew = models.ForeignKey(Crew, null=True, blank=True, on_delete=models.PROTECT, related_name="help_given")

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(area=F("of_area")), name="help_comes_from_another_area"),
            models.CheckConstraint(
                condition=Q(state="given", crew__isnull=False) | ~Q(state="given") & Q(crew__isnull=True),
                name="given_help_names_its_crew",
            ),
        ]

    def __str__(self) -> str:
        return f"help for {self.area_id} on {self.day} ({self.state})"
