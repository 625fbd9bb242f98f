"""People, crews, shifts, plans, routes, the call desk."""

from django.apps import AppConfig


class DispatchConfig(AppConfig):
    name = "dispatch"
