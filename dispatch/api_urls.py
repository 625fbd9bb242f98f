"""Dispatch's part of `/api/v1/`."""

from django.urls import path

from dispatch import api, call_api, callout_api, link_api, override_api, sources_api
from dispatch.crew import api as crew
from dispatch.crew import on_site_api, signing_api

urlpatterns = [
    path("areas/<slug:area>/board", api.BoardView.as_view()),
    path("areas/<slug:area>/handover", api.HandoverView.as_view()),
    path("areas/<slug:area>/overrides", override_api.OverridesView.as_view()),
    path("areas/<slug:area>/leads", callout_api.LeadsView.as_view()),
    path("areas/<slug:area>/notices", callout_api.NoticesView.as_view()),
    path("areas/<slug:area>/tonight", api.NightBoardView.as_view()),
    path("areas/<slug:area>/where-can-i-get", sources_api.SourcesView.as_view()),
    path("calls/<int:call_id>/offers", api.OffersView.as_view()),
    path("calls/<int:call_id>/book", call_api.BookView.as_view()),
    path("calls/<int:call_id>/send", api.SendView.as_view()),
    path("calls/<int:call_id>/overrides", override_api.CallOverrideView.as_view()),
    path("jobs/<int:job_id>/crews", override_api.JobCrewsView.as_view()),
    path("jobs/<int:job_id>/overrides", override_api.JobOverrideView.as_view()),
    path("call-outs/<int:call_out_id>/answer", api.AnswerView.as_view()),
    path("answer-links/<str:token>", link_api.AnswerLinkView.as_view()),
    path("people/<int:person_id>/release", callout_api.ReleaseView.as_view()),
    path("people/<int:person_id>/reach", callout_api.ReachPersonView.as_view()),
    path("contacts/<int:contact_id>/reach", callout_api.ReachContactView.as_view()),
    path("plans", api.PlansView.as_view()),
    path("plans/<int:plan_id>", api.PlanView.as_view()),
    path("plans/<int:plan_id>/publish", api.PublishView.as_view()),
    path("plans/<int:plan_id>/withdraw", api.WithdrawView.as_view()),
    path("my-day", crew.MyDayView.as_view()),
    path("stops/<int:visit_id>/leave", crew.LeaveView.as_view()),
    path("stops/<int:visit_id>/loaded", crew.LoadedView.as_view()),
    path("stops/<int:visit_id>/late", crew.LateView.as_view()),
    path("stops/<int:visit_id>/arrive", crew.ArriveView.as_view()),
    path("stops/<int:visit_id>/place", crew.PlaceView.as_view()),
    path("stops/<int:visit_id>/take-up", crew.TakeUpView.as_view()),
    path("stops/<int:visit_id>/points", crew.PointsView.as_view()),
    path("stops/<int:visit_id>/readings", crew.ReadingsView.as_view()),
    path("stops/<int:visit_id>/counts", on_site_api.StopCountsView.as_view()),
    path("stops/<int:visit_id>/meters", on_site_api.StopMetersView.as_view()),
    path("stops/<int:visit_id>/power", on_site_api.StopPowerView.as_view()),
    path("stops/<int:visit_id>/signing", signing_api.StopSigningView.as_view()),
    path("stops/<int:visit_id>/signatures", signing_api.StopSignaturesView.as_view()),
    path("stops/<int:visit_id>/finish", crew.FinishView.as_view()),
    path("stops/<int:visit_id>/cannot-work", crew.CannotWorkView.as_view()),
]
