"""The one feed address outside the API: a calendar's."""

from django.urls import path

from dispatch.feeds import api

app_name = "feeds"
urlpatterns = [path("calendar/<str:secret>.ics", api.calendar, name="calendar")]
