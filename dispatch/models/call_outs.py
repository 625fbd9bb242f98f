"""Asking a crew to go: who was asked, when, and what they said."""

from django.db import models
from django.db.models import Q

from dispatch.models.crews import Crew
from dispatch.models.people import Person
from jobs.models import Area, Contact, Visit


class CallOut(models.Model):
    """One visit that needs a crew to say yes; climbs the call-out order by itself."""

    class State(models.TextChoices):
        ASKING = "asking", "waiting for an answer"
        ACCEPTED = "accepted", "on the way"
        EXHAUSTED = "exhausted", "nobody answered: manager told"
        CANCELED = "canceled", "no longer needed"

    area = models.ForeignKey(Area, on_delete=models.PROTECT, related_name="call_outs")
    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="call_outs")
    crew = models.ForeignKey(Crew, on_delete=models.PROTECT, related_name="call_outs")
    state = models.CharField(max_length=10, choices=State, default=State.ASKING)
    started_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True)
    accepted_by = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["visit"], condition=Q(state="asking"), name="one_call_out_at_a_time_for_a_visit"
            ),
        ]

    def __str__(self) -> str:
        return f"call-out for {self.visit_id} ({self.state})"


class CallOutStep(models.Model):
    """One person asked at one time."""

    class Answer(models.TextChoices):
        NONE = "", "no answer yet"
        LEAVING = "leaving", "awake, rested and leaving"
        CANNOT = "cannot", "cannot go"
        SILENT = "silent", "did not answer in time"
        UNREACHED = "unreached", "could not be reached"

    call_out = models.ForeignKey(CallOut, on_delete=models.CASCADE, related_name="steps")
    number = models.PositiveSmallIntegerField()
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField()
    answer_by = models.DateTimeField()
    answer = models.CharField(max_length=10, choices=Answer, blank=True)
    answered_at = models.DateTimeField(null=True)
    reason = models.CharField(max_length=120, blank=True, help_text="Why they cannot go, in their words.")
    tried_again_at = models.DateTimeField(null=True)
    token_hash = models.CharField(max_length=64, blank=True, db_index=True)

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(fields=["call_out", "number"], name="steps_of_a_call_out_are_numbered_once"),
        ]

    def __str__(self) -> str:
        return f"step {self.number} of {self.call_out_id}"


class Notice(models.Model):
    """A message to someone: written in the caller's transaction, sent by a worker, kept with what became of it."""

    class State(models.TextChoices):
        WAITING = "waiting", "to be sent"
        SENT = "sent", "sent"
        FAILED = "failed", "could not be sent"
        NOT_NEEDED = "not_needed", "no longer needed"

    key = models.UUIDField(unique=True)
    area = models.ForeignKey(Area, on_delete=models.PROTECT, related_name="notices")
    person = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT, related_name="notices")
    contact = models.ForeignKey(Contact, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    visit = models.ForeignKey(Visit, null=True, blank=True, on_delete=models.PROTECT, related_name="notices")
    step = models.ForeignKey(
        CallOutStep,
        null=True,
        blank=True,
        on_delete=models.CASCADE,
        related_name="notices",
        help_text="The page it is.",
    )
    text = models.CharField(max_length=480)
    way = models.CharField(max_length=10, blank=True, help_text="How it went out, or was tried last.")
    tries = models.PositiveSmallIntegerField(default=0)
    state = models.CharField(max_length=10, choices=State, default=State.WAITING)
    made_at = models.DateTimeField()
    sent_at = models.DateTimeField(null=True)
    failure = models.CharField(max_length=200, blank=True)
    failed_for_good = models.BooleanField(default=False, help_text="It was refused: trying again would be useless.")

    class Meta:
        indexes = [models.Index(fields=["area", "-made_at"], name="notices_of_an_area")]

    def __str__(self) -> str:
        return f"{self.state}: {self.text[:40]}"
