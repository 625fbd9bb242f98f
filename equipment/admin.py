"""Master data of what we own, in Django's admin. The ledgers are read in their rooms and changed by no hand."""

from django.contrib import admin

from equipment.models import CountedStock, EquipmentModel, Vehicle, Warehouse


@admin.register(Warehouse)
class WarehouseAdmin(admin.ModelAdmin):
    list_display = ("name", "town", "state", "area")
    list_select_related = ("area",)


@admin.register(Vehicle)
class VehicleAdmin(admin.ModelAdmin):
    list_display = ("code", "name", "kind", "home", "gvwr_lb", "in_workshop")
    list_filter = ("kind", "home", "in_workshop")
    list_select_related = ("home",)
    search_fields = ("code", "name")


@admin.register(EquipmentModel)
class EquipmentModelAdmin(admin.ModelAdmin):
    list_display = ("code", "name", "kind", "rated_pints_per_day", "running_a")
    list_filter = ("kind",)


@admin.register(CountedStock)
class CountedStockAdmin(admin.ModelAdmin):
    list_display = ("item", "place", "quantity", "minimum")
    list_select_related = ("place",)
