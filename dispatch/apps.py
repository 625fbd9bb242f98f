"""People, crews, shifts, plans, routes, the call desk."""

from django.apps import AppConfig


class DispatchConfig(AppConfig):
    name = "dispatch"

    def ready(self) -> None:
        from dispatch import area_rules, call_out_waits, callouts, erasing, notify, plan_timers, planning, what_if
        from dispatch.desk import night_print

        area_rules.register()
        call_out_waits.register()
        callouts.register()
        night_print.register()
        erasing.register()
        notify.register()
        plan_timers.register()
        planning.register()
        what_if.register()
