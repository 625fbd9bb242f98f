"""The crew lead's addresses."""

from django.urls import path

from dispatch.crew import advice_views, link_views, on_site_views, photo_views, position_views, signing_views, views

app_name = "crew"
urlpatterns = [
    path("go/<str:token>", link_views.answer_link, name="answer_link"),
    path("crew", views.day, name="day"),
    path("crew/position", position_views.tell, name="tell_position"),
    path("crew/position/forget", position_views.forget, name="forget_position"),
    path("crew/call-outs/<int:call_out_id>/answer", views.answer, name="answer"),
    path("crew/stops/<int:visit_id>", views.stop, name="stop"),
    path("crew/stops/<int:visit_id>/leave", views.leave, name="leave"),
    path("crew/stops/<int:visit_id>/loaded", views.loaded, name="loaded"),
    path("crew/stops/<int:visit_id>/late", views.run_late, name="late"),
    path("crew/stops/<int:visit_id>/arrive", views.arrive, name="arrive"),
    path("crew/stops/<int:visit_id>/place", views.place, name="place"),
    path("crew/stops/<int:visit_id>/readings", views.readings, name="readings"),
    path("crew/stops/<int:visit_id>/photos", photo_views.add, name="photo"),
    path("crew/stops/<int:visit_id>/advice", advice_views.decide, name="advice"),
    path("crew/stops/<int:visit_id>/count", on_site_views.count, name="count"),
    path("crew/stops/<int:visit_id>/meters", on_site_views.meters, name="meters"),
    path("crew/stops/<int:visit_id>/power", on_site_views.power, name="power"),
    path("crew/stops/<int:visit_id>/sign", signing_views.sign, name="sign"),
    path("crew/photos/<int:photo_id>", photo_views.show, name="show_photo"),
    path("crew/stops/<int:visit_id>/finish", views.finish, name="finish"),
    path("crew/stops/<int:visit_id>/cannot-work", views.cannot_work, name="cannot_work"),
]
