"""Master data of people and crews, in Django's admin."""

from django.contrib import admin

from dispatch.models import CallOutOrder, Card, Crew, FirmLicense, Person, Shift


class CardInline(admin.TabularInline):
    model = Card
    extra = 0


@admin.register(Person)
class PersonAdmin(admin.ModelAdmin):
    list_display = ("name", "home", "can_lead", "active")
    list_filter = ("active", "can_lead", "home")
    list_select_related = ("home",)
    search_fields = ("name", "user__username")
    inlines = (CardInline,)


@admin.register(FirmLicense)
class FirmLicenseAdmin(admin.ModelAdmin):
    list_display = ("kind", "state", "expires_on")


@admin.register(Shift)
class ShiftAdmin(admin.ModelAdmin):
    list_display = ("person", "kind", "starts_at", "ends_at")
    list_filter = ("kind",)
    list_select_related = ("person",)
    date_hierarchy = "starts_at"


@admin.register(Crew)
class CrewAdmin(admin.ModelAdmin):
    list_display = ("name", "service_day", "lead", "helper", "vehicle", "starts_at", "ends_at")
    list_filter = ("service_day",)
    list_select_related = ("lead", "helper", "vehicle")


@admin.register(CallOutOrder)
class CallOutOrderAdmin(admin.ModelAdmin):
    list_display = ("night_of", "position", "person")
    list_select_related = ("person",)
