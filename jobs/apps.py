"""The lowest app: who, where, what is wet, what the air says, what happened."""

from django.apps import AppConfig


class JobsConfig(AppConfig):
    name = "jobs"
