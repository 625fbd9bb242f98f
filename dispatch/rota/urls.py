"""The rota's addresses at the desk, and its part of `/api/v1/`."""

from django.urls import path

from dispatch.rota import api, views

urlpatterns = [
    path("desk/rota", views.rota, name="rota"),
    path("desk/rota/change", views.change, name="rota_change"),
]
api_patterns = [
    path("areas/<slug:area>/rota", api.RotaView.as_view()),
    path("areas/<slug:area>/single-points", api.SinglePointsView.as_view()),
    path("rota/make", api.MakeShift.as_view()),
    path("rota/make/try", api.TryMakeShift.as_view()),
    path("rota/cover", api.CoverShift.as_view()),
    path("rota/cover/try", api.TryCoverShift.as_view()),
    path("rota/swap", api.SwapShifts.as_view()),
    path("rota/swap/try", api.TrySwapShifts.as_view()),
    path("rota/cancel", api.CancelShift.as_view()),
    path("rota/cancel/try", api.TryCancelShift.as_view()),
    path("rota/order", api.Order.as_view()),
    path("rota/order/try", api.TryOrder.as_view()),
]
