"""What we own, where it is, what is promised."""

from django.apps import AppConfig


class EquipmentConfig(AppConfig):
    name = "equipment"

    def ready(self) -> None:
        from equipment import area_rules, audit
        from equipment.reservations import timers

        area_rules.register()
        audit.register()
        timers.register()
