"""People, crews, shifts, plans, routes, the call desk."""

from django.apps import AppConfig


class DispatchConfig(AppConfig):
    name = "dispatch"

    def ready(self) -> None:
        from dispatch import call_out_waits, callouts, notify, plan_timers, planning, what_if
        from dispatch.desk import night_print

        call_out_waits.register()
        callouts.register()
        night_print.register()
        notify.register()
        plan_timers.register()
        planning.register()
        what_if.register()
