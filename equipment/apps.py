"""What we own, where it is, what is promised."""

from django.apps import AppConfig


class EquipmentConfig(AppConfig):
    name = "equipment"

    def ready(self) -> None:
        from equipment import audit
        from equipment.reservations import timers

        audit.register()
        timers.register()
