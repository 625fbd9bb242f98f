"""Start-up checks: each has an id and a hint that says what to do."""

from collections.abc import Sequence
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error, Warning, register


@register()
def production_is_strict(app_configs: Sequence[Any] | None, **kwargs: Any) -> list[CheckMessage]:
    """Production mode starts only with a secret, hosts, no debug, PostgreSQL and Redis."""
    if not settings.PRODUCTION:
        return []
    found: list[CheckMessage] = []
    if len(settings.SECRET_KEY) < 50:
        found.append(
            Error(
                "The secret key is missing or shorter than 50 characters.",
                hint="Set EBBLINE_SECRET_KEY, or EBBLINE_SECRET_KEY_FILE to a file that holds it.",
                id="ebbline.E001",
            )
        )
    if not settings.ALLOWED_HOSTS or "*" in settings.ALLOWED_HOSTS:
        found.append(Error("No host names are set.", hint="Set EBBLINE_HOSTS=desk.example.com", id="ebbline.E002"))
    if settings.DEBUG:
        found.append(Error("Debug pages are on.", hint="Remove EBBLINE_DEBUG.", id="ebbline.E003"))
    if "sqlite" in settings.DATABASES["default"]["ENGINE"]:
        found.append(Error("Production runs on PostgreSQL.", hint="Set DATABASE_URL=postgres://...", id="ebbline.E004"))
    if not settings.REDIS_URL:
        found.append(
            Warning(
                "No REDIS_URL: timed work is done by one runner process.",
                hint="Set REDIS_URL=redis://... and start Celery workers and beat.",
                id="ebbline.W001",
            )
        )
    return found
