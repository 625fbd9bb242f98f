"""The lowest app: who, where, what is wet, what the air says, what happened."""

from django.apps import AppConfig


class JobsConfig(AppConfig):
    name = "jobs"

    def ready(self) -> None:
        from jobs import erasing

        erasing.register()
