"""Promise clocks: what was promised, until when and by which rule, and how it ended. Both are written once."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from jobs.models.area import Area
from jobs.models.call import Call
from jobs.models.job import Job
from jobs.models.payer import PayerRule
from jobs.models.visit import Visit


class Promise(models.Model):
    """
    One clock: it runs from `starts_at` until it has an end, and is late from the moment after `due_at`.

    It belongs to a call or to a job, and to a visit where a visit keeps it. `takes_place_of` is the clock that ended
    when this time was agreed instead.
    """

    append_only = True

    class Kind(models.TextChoices):
        CONTACT = "contact", "call back"
        ARRIVAL = "arrival", "arrive"
        DAILY_VISIT = "daily_visit", "daily visit"
        REPORT = "report", "report"

    area = models.ForeignKey(Area, on_delete=models.PROTECT, related_name="promises")
    kind = models.CharField(max_length=12, choices=Kind)
    call = models.ForeignKey(Call, null=True, blank=True, on_delete=models.PROTECT, related_name="promises")
    job = models.ForeignKey(Job, null=True, blank=True, on_delete=models.PROTECT, related_name="promises")
    visit = models.ForeignKey(Visit, null=True, blank=True, on_delete=models.PROTECT, related_name="promises")
    rule = models.ForeignKey(PayerRule, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    basis = models.CharField(max_length=160)
    starts_at = models.DateTimeField()
    due_at = models.DateTimeField()
    takes_place_of = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="replaced_by"
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(call__isnull=False) | Q(job__isnull=False), name="a_promise_is_made_to_somebody"
            ),
            models.CheckConstraint(condition=Q(due_at__gte=F("starts_at")), name="a_promise_falls_due_after_its_start"),
        ]
        indexes = [models.Index(fields=["area", "due_at"], name="promises_of_an_area")]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} by {self.due_at:%Y-%m-%d %H:%M}"


class PromiseEnd(models.Model):
    """How a clock ended: one row, never changed, so that a clock has one end only."""

    append_only = True

    class End(models.TextChoices):
        KEPT = "kept", "kept"
        BROKEN = "broken", "broken"
        AGREED_LATER = "agreed_later", "agreed later"

    promise = models.OneToOneField(Promise, on_delete=models.PROTECT, related_name="end")
    end = models.CharField(max_length=12, choices=End)
    happened_at = models.DateTimeField(help_text="When it was done, or when another time was agreed.")
    recorded_at = models.DateTimeField()
    actor = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    why = models.CharField(max_length=40, help_text="Which recorded fact ended it.")

    def __str__(self) -> str:
        return f"{self.promise_id}: {self.end}"


class AgreedWith(models.Model):
    """With whom another time was agreed. Kept apart from the end, since a name is erased on schedule."""

    end = models.OneToOneField(PromiseEnd, on_delete=models.PROTECT, related_name="agreed_with")
    name = models.CharField(max_length=120, blank=True)

    def __str__(self) -> str:
        return f"agreement of {self.end_id}"
