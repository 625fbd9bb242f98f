"""Every address of the program. Each room keeps its own list; this file only says where it hangs."""

from django.conf import settings
from django.contrib import admin
from django.contrib.auth import views as auth
from django.urls import include, path
from drf_spectacular.views import SpectacularAPIView, SpectacularSwaggerSplitView

from config import health, metrics, pages, workers

handler500 = "config.errors.failed"
urlpatterns = [
    path("", pages.home, name="home"),
    path("sign-in", auth.LoginView.as_view(template_name="sign_in.html"), name="sign_in"),
    path("sign-out", auth.LogoutView.as_view(), name="sign_out"),
    path("<slug:word>-worker.js", workers.worker, name="room_worker"),
    path("health", health.health, name="health"),
    path("healthz", health.health, name="healthz"),
    path("livez", health.alive, name="livez"),
    path("metrics", metrics.metrics, name="metrics"),
    path("", include("dispatch.desk.urls")),
    path("", include("dispatch.crew.urls")),
    path("", include("dispatch.manager.urls")),
    path("", include("dispatch.feeds.urls")),
    path("", include("equipment.warehouse.urls")),
    path("api/v1/", include("jobs.api_urls")),
    path("api/v1/", include("dispatch.api_urls")),
    path("api/v1/", include("equipment.api.urls")),
    path("api/v1/schema", SpectacularAPIView.as_view(), name="schema"),
    path("api/v1/docs", SpectacularSwaggerSplitView.as_view(url_name="schema"), name="api_docs"),
    path("admin/", admin.site.urls),
]
if settings.NIGHT:
    urlpatterns += [path("", include("config.night_urls"))]

handler400 = "config.errors.bad_request"
handler404 = "config.errors.not_found"
