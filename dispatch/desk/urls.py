"""The desk's addresses."""

from django.urls import path

from dispatch.desk import job_views, plan_views, views

app_name = "desk"
urlpatterns = [
    path("", views.board, name="board"),
    path("/map", views.map_page, name="map"),
    path("/map/features", views.map_features, name="map_features"),
    path("/call-outs/<int:call_out_id>/answer", views.answer, name="answer"),
    path("/jobs/<str:number>", job_views.job, name="job"),
    path("/jobs/<str:number>/close", job_views.close, name="close_job"),
    path("/plans", plan_views.plans, name="plans"),
    path("/plans/<int:plan_id>", plan_views.plan, name="plan"),
    path("/plans/<int:plan_id>/decide", plan_views.decide, name="decide_plan"),
]
