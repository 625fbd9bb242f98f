"""The ground floor's part of `/api/v1/`."""

from django.urls import path

from jobs import api, log_api, signing_api, token_api

urlpatterns = [
    path("areas", api.AreasView.as_view()),
    path("places", api.PlacesView.as_view()),
    path("calls", api.CallsView.as_view()),
    path("calls/<int:call_id>", api.CallView.as_view()),
    path("calls/<int:call_id>/answers", api.CallAnswersView.as_view()),
    path("calls/<int:call_id>/end", api.EndCallView.as_view()),
    path("tokens", token_api.TokensView.as_view()),
    path("tokens/<int:token_id>/revocation", token_api.RevokeTokenView.as_view()),
    path("jobs", api.JobsView.as_view()),
    path("jobs/<int:job_id>", api.JobView.as_view()),
    path("jobs/<int:job_id>/visits", log_api.VisitsView.as_view()),
    path("jobs/<int:job_id>/journal", log_api.JournalView.as_view()),
    path("jobs/<int:job_id>/drying-log", api.DryingLogView.as_view()),
    path("jobs/<int:job_id>/points", log_api.PointsView.as_view()),
    path("jobs/<int:job_id>/readings", log_api.ReadingsView.as_view()),
    path("jobs/<int:job_id>/authorization", log_api.AuthorizeView.as_view()),
    path("jobs/<int:job_id>/signatures", signing_api.SignaturesView.as_view()),
    path("jobs/<int:job_id>/leads-words", log_api.LeadsWordView.as_view()),
    path("visits/<int:visit_id>/miss", log_api.MissVisitView.as_view()),
    path("readings/<str:kind>/<int:reading_id>/correction", log_api.CorrectReadingView.as_view()),
]
