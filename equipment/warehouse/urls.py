"""The warehouse's addresses, all below /warehouse."""

from django.urls import path

from equipment.warehouse import (
    accessories,
    counting,
    fast_counts,
    lists,
    on_device,
    rentals,
    repair,
    transfers,
    unit_page,
    views,
)

app_name = "warehouse"
urlpatterns = [
    path("warehouse", views.choose, name="choose"),
    path("warehouse/tags.pdf", views.tags, name="tags"),
    path("warehouse/units/<str:number>", unit_page.unit, name="unit"),
    path("warehouse/<slug:code>", views.departures, name="departures"),
    path("warehouse/<slug:code>/load/<int:load_list_id>", views.load, name="load"),
    path("warehouse/<slug:code>/restock/<slug:vehicle_code>", views.restock, name="restock"),
    path("warehouse/<slug:code>/returns", views.returns, name="returns"),
    path("warehouse/<slug:code>/cleaning", views.cleaning, name="cleaning"),
    path("warehouse/<slug:code>/left-behind", views.left_behind, name="left_behind"),
    path("warehouse/<slug:code>/transfers", transfers.receive, name="transfers"),
    path("warehouse/<slug:code>/transfers/<slug:to_code>", transfers.send, name="send"),
    path("warehouse/<slug:code>/accessories", accessories.accessories, name="accessories"),
    path("warehouse/<slug:code>/lists", lists.lists, name="lists"),
    path("warehouse/<slug:code>/lists/<slug:list_name>.csv", lists.export, name="list_file"),
    path("warehouse/<slug:code>/counting", counting.daily, name="counting"),
    path("warehouse/<slug:code>/counting/<slug:vehicle_code>", counting.vehicle, name="count_vehicle"),
    path("warehouse/<slug:code>/differences", counting.differences, name="differences"),
    path("warehouse/<slug:code>/by-model", fast_counts.by_model, name="by_model"),
    path("warehouse/<slug:code>/by-model/<int:fast_count_id>", fast_counts.numbers, name="numbers"),
    path("warehouse/<slug:code>/rentals", rentals.rentals, name="rentals"),
    path("warehouse/<slug:code>/repair", repair.repair, name="repair"),
    path("warehouse/<slug:code>/units.json", on_device.units, name="units"),
    path("warehouse/<slug:code>/free", views.free, name="free"),
    path("warehouse/<slug:code>/find", views.find, name="find"),
]
