"""The app that knows everyone."""

from typing import Any

from django.apps import AppConfig
from django.db.models.signals import post_migrate


def _guards(using: str, **kwargs: Any) -> None:
    from jobs import guards

    guards.install(using)


class ConfigConfig(AppConfig):
    name = "config"

    def ready(self) -> None:
        from config import erasing

        erasing.register()
        # The one receiver in the project: SQLite loses triggers whenever Django rebuilds a table.
        # `config` comes last in INSTALLED_APPS, so by its turn every table stands.
        post_migrate.connect(_guards, sender=self, dispatch_uid="ebbline.guards")
