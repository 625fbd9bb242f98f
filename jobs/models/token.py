"""Tokens: how a program signs in for a person, with less than the person may."""

from django.conf import settings
from django.db import models


class ApiToken(models.Model):
    """
    One token of one user. Only its digest is kept: who loses the token asks for another.

    `verbs` are use cases, `reads` lets it read, `area_ids` narrows the user's areas (null: all of the user's).
    """

    name = models.CharField(max_length=60)
    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="api_tokens")
    mark = models.CharField(max_length=12, unique=True, help_text="The token's beginning, to tell it by.")
    digest = models.CharField(max_length=64, unique=True)
    reads = models.BooleanField(default=True)
    verbs = models.JSONField(default=list)
    area_ids = models.JSONField(null=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True)
    revoked_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    last_used_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(expires_at__gt=models.F("made_at")), name="a_token_expires_after_it_was_made"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.mark} ({self.name})"
