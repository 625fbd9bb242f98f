"""Master data: areas, roles, payers, state rules. What happened (calls, jobs, ledgers) is never edited here."""

from django.contrib import admin

from jobs.models import Area, Membership, Payer, PayerRule, StateRule


class MembershipInline(admin.TabularInline):
    model = Membership
    extra = 0
    autocomplete_fields = ["user"]


class PayerRuleInline(admin.StackedInline):
    model = PayerRule
    extra = 0


@admin.register(Area)
class AreaAdmin(admin.ModelAdmin):
    list_display = ["name", "code", "time_zone", "phone"]
    search_fields = ["name", "code"]
    inlines = [MembershipInline]


@admin.register(Membership)
class MembershipAdmin(admin.ModelAdmin):
    list_display = ["user", "role", "area"]
    list_filter = ["role", "area"]
    search_fields = ["user__username", "user__last_name"]
    autocomplete_fields = ["user", "area"]


@admin.register(Payer)
class PayerAdmin(admin.ModelAdmin):
    list_display = ["name", "code", "kind"]
    list_filter = ["kind"]
    search_fields = ["name", "code"]
    inlines = [PayerRuleInline]


@admin.register(StateRule)
class StateRuleAdmin(admin.ModelAdmin):
    list_display = ["state", "topic", "value", "source", "confidence", "valid_from", "valid_until"]
    list_filter = ["state", "topic", "confidence"]
    search_fields = ["topic", "source"]
