"""The desk's addresses."""

from django.urls import path, re_path

from dispatch.desk import (
    call_urls,
    help_views,
    job_crews,
    job_parts,
    job_views,
    notice_views,
    office_views,
    plan_views,
    presence_views,
    promise_views,
    release_views,
    sheet_views,
    source_views,
    views,
)
from dispatch.rota import urls as rota_urls

app_name = "desk"
urlpatterns = [
    path("desk", views.board, name="board"),
    path("desk/handover", sheet_views.handover, name="handover"),
    path("desk/handover.pdf", sheet_views.handover_paper, name="handover_pdf"),
    path("desk/tonight", sheet_views.tonight, name="night"),
    path("desk/tonight.pdf", sheet_views.tonight_paper, name="night_pdf"),
    path("desk/looked", views.looked, name="looked"),
    path("desk/help", help_views.help_page, name="help"),
    path("desk/office", office_views.office, name="office"),
    path("desk/office/looks", office_views.who_looked, name="who_looked"),
    path("desk/map", views.map_page, name="map"),
    path("desk/map/features", views.map_features, name="map_features"),
    path("desk/notices", notice_views.notices, name="notices"),
    path("desk/people/<int:person_id>/reach", notice_views.reach, name="reach"),
    re_path(r"^desk/here/(?P<kind>call|job)/(?P<subject_id>[0-9]{1,18})$", presence_views.here, name="here"),
    path("desk/release", release_views.release, name="release"),
    path("desk/release/<uuid:key>", release_views.released, name="released"),
    path("desk/call-outs/<int:call_out_id>/answer", views.answer, name="answer"),
    path("desk/jobs/<str:number>", job_views.job, name="job"),
    path("desk/jobs/<str:number>/close", job_views.close, name="close_job"),
    path("desk/jobs/<str:number>/crews", job_crews.crews, name="job_crews"),
    path("desk/jobs/<str:number>/size-again", job_parts.size_again, name="size_again"),
    path("desk/jobs/<str:number>/miss-visit", job_parts.miss, name="miss_visit"),
    path("desk/jobs/<str:number>/leads-word", job_parts.say, name="leads_word"),
    path("desk/jobs/<str:number>/sizing.pdf", job_parts.sheet, name="sizing_sheet"),
    path("desk/jobs/<str:number>/drying-record.pdf", job_parts.record, name="drying_record"),
    path("desk/jobs/<str:number>/photos/<int:photo_id>", job_parts.photo, name="photo"),
    path("desk/promises/<int:promise_id>", promise_views.promise, name="promise"),
    *call_urls.urlpatterns,
    path("desk/where-can-i-get", source_views.sources, name="sources"),
    *rota_urls.urlpatterns,
    path("desk/plans", plan_views.plans, name="plans"),
    path("desk/plans/<int:plan_id>", plan_views.plan, name="plan"),
    path("desk/plans/<int:plan_id>/what-if", plan_views.ask_what_if, name="ask_what_if"),
    path("desk/plans/<int:plan_id>/decide", plan_views.decide, name="decide_plan"),
]
