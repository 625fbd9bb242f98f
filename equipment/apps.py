"""What we own, where it is, what is promised."""

from django.apps import AppConfig


class EquipmentConfig(AppConfig):
    name = "equipment"

    def ready(self) -> None:
        from equipment.reservations import timers

        timers.register()
