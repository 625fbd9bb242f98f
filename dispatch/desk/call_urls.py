"""The addresses of a call being taken."""

from django.urls import path

from dispatch.desk import call_endings, call_views

urlpatterns = [
    path("desk/calls/new", call_views.new_call, name="new_call"),
    path("desk/calls/<int:call_id>", call_views.call, name="call"),
    path("desk/calls/<int:call_id>/answers", call_views.answers, name="call_answers"),
    path("desk/calls/<int:call_id>/address", call_views.address, name="call_address"),
    path("desk/calls/<int:call_id>/offers", call_endings.offers, name="call_offers"),
    path("desk/calls/<int:call_id>/send", call_endings.send, name="call_send"),
    path("desk/calls/<int:call_id>/override", call_endings.override, name="call_override"),
    path("desk/calls/<int:call_id>/book", call_endings.book, name="call_book"),
    path("desk/calls/<int:call_id>/end", call_endings.end, name="call_end"),
    path("desk/calls/<int:call_id>/split", call_endings.split, name="call_split"),
    path("desk/calls/<int:call_id>/urgency", call_endings.urgency, name="call_urgency"),
]
