"""The manager's addresses."""

from django.urls import path

from dispatch.manager import billed_views, loan_views, views

app_name = "manager"
urlpatterns = [
    path("manager", views.overview, name="overview"),
    path("manager/surge", views.surge, name="surge"),
    path("manager/loans", loan_views.loans_page, name="loans"),
    path("manager/billed", billed_views.billed, name="billed"),
    path("manager/measures", views.measures, name="measures"),
    path("manager/measures.csv", views.measures_file, name="measures_file"),
    path("manager/measures/<slug:code>", views.measure, name="measure"),
    path("manager/measures/<slug:code>.csv", views.measure_file, name="measure_file"),
]
