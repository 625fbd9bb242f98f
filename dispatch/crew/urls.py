"""The crew lead's addresses."""

from django.urls import path

from dispatch.crew import views

app_name = "crew"
urlpatterns = [
    path("", views.day, name="day"),
    path("/call-outs/<int:call_out_id>/answer", views.answer, name="answer"),
    path("/stops/<int:visit_id>", views.stop, name="stop"),
    path("/stops/<int:visit_id>/leave", views.leave, name="leave"),
    path("/stops/<int:visit_id>/arrive", views.arrive, name="arrive"),
    path("/stops/<int:visit_id>/place", views.place, name="place"),
    path("/stops/<int:visit_id>/readings", views.readings, name="readings"),
    path("/stops/<int:visit_id>/finish", views.finish, name="finish"),
    path("/stops/<int:visit_id>/cannot-work", views.cannot_work, name="cannot_work"),
]
