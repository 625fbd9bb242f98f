"""The addresses of a night that is shown; there are none of them anywhere else."""

from django.urls import path

from config import night

urlpatterns = [
    path("night", night.page, name="night"),
    path("night/part", night.part, name="night_part"),
    path("night/<slug:what>", night.act, name="night_act"),
]
