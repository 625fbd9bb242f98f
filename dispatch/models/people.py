"""People, what they are trained and allowed to do, and when they work."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from equipment.models import Loan, Warehouse
from jobs.models import Area, WaysToReach
from jobs.no_overlap import NoOverlap


class Person(models.Model):
    """Someone who works here; points at their sign-in."""

    user = models.OneToOneField(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="person")
    area = models.ForeignKey(Area, on_delete=models.PROTECT, related_name="people")
    name = models.CharField(max_length=80)
    phone = models.CharField(max_length=20)
    reach_by = models.CharField(max_length=10, blank=True, choices=WaysToReach, help_text="How messages go to them.")
    home = models.ForeignKey(Warehouse, on_delete=models.PROTECT, related_name="people")
    can_lead = models.BooleanField(default=False)
    active = models.BooleanField(default=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Card(models.Model):
    """A training, credential or clearance. It lapses at midnight after `expires_on`, in the area's zone."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="cards")
    kind = models.SlugField(max_length=40)
    state = models.CharField(max_length=2, blank=True, help_text="Only valid in this state; empty: everywhere.")
    issued_on = models.DateField(null=True, blank=True)
    expires_on = models.DateField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["person", "kind", "state"], name="a_card_of_a_kind_is_held_once"),
        ]
        indexes = [models.Index(fields=["expires_on"], name="cards_by_expiry")]

    def __str__(self) -> str:
        return f"{self.kind} {self.state}".strip()


class FirmLicense(models.Model):
    """What the firm itself may do in a state; with `loan`, what the firm may do that lends us a crew."""

    area = models.ForeignKey(Area, on_delete=models.CASCADE, related_name="licenses")
    kind = models.SlugField(max_length=40)
    state = models.CharField(max_length=2)
    expires_on = models.DateField(null=True, blank=True)
    loan = models.ForeignKey(Loan, null=True, blank=True, on_delete=models.PROTECT, related_name="licenses")

    def __str__(self) -> str:
        return f"{self.kind} {self.state}"


class Shift(models.Model):
    """One person's hours: rostered, or on call at home."""

    class Kind(models.TextChoices):
        DAY = "day", "day"
        NIGHT = "night", "night"
        ON_CALL = "on_call", "on call"

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="shifts")
    kind = models.CharField(max_length=10, choices=Kind)
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(ends_at__gt=F("starts_at")), name="a_shift_ends_after_it_starts"),
            NoOverlap(
                name="a_person_works_one_shift_at_a_time",
                resource="person_id",
                violation_error_message="This person already has a shift in these hours.",
            ),
        ]
        indexes = [models.Index(fields=["starts_at", "ends_at"], name="shifts_by_hours")]

    def __str__(self) -> str:
        return f"{self.person_id} {self.starts_at:%Y-%m-%d %H:%M}"


class WorkSpell(models.Model):
    """Hours really worked: what rest is counted from."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="worked")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        indexes = [models.Index(fields=["person", "starts_at"], name="hours_of_a_person")]

    def __str__(self) -> str:
        return f"{self.person_id} from {self.starts_at:%Y-%m-%d %H:%M}"


class CallOutOrder(models.Model):
    """Who is tried, in which order, on one night."""

    area = models.ForeignKey(Area, on_delete=models.CASCADE, related_name="call_out_order")
    night_of = models.DateField(help_text="The day on which the night begins.")
    position = models.PositiveSmallIntegerField()
    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="+")

    class Meta:
        ordering = ["night_of", "position"]
        constraints = [
            models.UniqueConstraint(
                fields=["area", "night_of", "position"], name="one_person_for_a_place_in_the_order"
            ),
            models.UniqueConstraint(fields=["area", "night_of", "person"], name="one_place_in_the_order_for_a_person"),
        ]

    def __str__(self) -> str:
        return f"{self.night_of} {self.position}"
