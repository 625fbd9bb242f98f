"""The API of the feeds, each in its own media type; a refusal stays problem details."""

from datetime import datetime
from typing import Any, ClassVar

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import renderers
from rest_framework.request import Request
from rest_framework.response import Response

from dispatch.feeds import calendars, exports, maps
from dispatch.manager.asking import asked
from dispatch.models import Person
from jobs import access
from jobs.api_base import UseCaseView
from jobs.models import Area
from jobs.people import signed_in
from jobs.refusals import NotThere

CALENDAR = "text/calendar"


class GeoJSONRenderer(renderers.JSONRenderer):
    """GeoJSON under its own media type."""

    media_type = "application/geo+json"
    format = "geojson"


class TextRenderer(renderers.BaseRenderer):
    """Text that is ready to be sent; whatever else (a refusal) is JSON."""

    charset = "utf-8"

    def render(self, data: Any, accepted_media_type: str | None = None, renderer_context: Any = None) -> Any:
        if isinstance(data, str | bytes):
            return data
        return renderers.JSONRenderer().render(data, renderer_context=renderer_context)


class CSVRenderer(TextRenderer):
    """A table (RFC 4180)."""

    media_type = "text/csv"
    format = "csv"


class CalendarRenderer(TextRenderer):
    """A calendar (RFC 5545)."""

    media_type = CALENDAR
    format = "ics"


class FeedView(UseCaseView):
    """A read of one area, for the desk, the warehouse and managers."""

    roles: ClassVar[frozenset[str] | None] = frozenset({access.DISPATCHER, access.WAREHOUSE, access.MANAGER})

    def here(self, code: str) -> tuple[Area, datetime]:
        """
        The area of the address, and the clock, read once; whose area it is was asked before the view.

        :raises NotThere: if there is none.
        """
        area = Area.objects.filter(code=code).first()
        if area is None:
            raise NotThere(f"There is no area {code!r}. See /api/v1/areas.", where="area")
        return area, timezone.now()


class MapView(FeedView):
    """Vehicles, jobs or routes as GeoJSON."""

    renderer_classes = [GeoJSONRenderer, renderers.JSONRenderer]

    @extend_schema(responses={(200, "application/geo+json"): OpenApiTypes.OBJECT})
    def get(self, request: Request, area: str, what: str) -> Response:
        found, now = self.here(area)
        if what not in maps.MAPS:
            raise NotThere(f"There is no map of {what!r}. Choose one of: {', '.join(maps.MAPS)}.", where="what")
        return Response(maps.MAPS[what](area=found, now=now))


class ExportView(FeedView):
    """One table of one month as CSV."""

    renderer_classes = [CSVRenderer, renderers.JSONRenderer]
    roles = frozenset({access.MANAGER})

    @extend_schema(
        parameters=[OpenApiParameter("month", str, description="The month, such as 2026-01; else the present one.")],
        responses={(200, "text/csv"): OpenApiTypes.STR},
    )
    def get(self, request: Request, area: str, name: str) -> Response:
        found, now = self.here(area)
        span, _ = asked(request.query_params, area=found, now=now)
        file = f'attachment; filename="{name}-{span.first:%Y-%m}.csv"'
        return Response(exports.export(name, span=span), headers={"Content-Disposition": file})


class MyCalendarView(UseCaseView):
    """The signed-in person's stops as iCalendar; the address for a calendar program is in the `Link` header."""

    renderer_classes = [CalendarRenderer, renderers.JSONRenderer]
    roles = frozenset({access.CREW_LEAD, access.MANAGER})

    @extend_schema(responses={(200, CALENDAR): OpenApiTypes.STR})
    def get(self, request: Request) -> Response:
        user = signed_in(request.user)
        person = Person.objects.filter(user=user).first()
        if person is None:
            raise NotThere("You are not among the people of a crew, so you have no stops.")
        address = request.build_absolute_uri(reverse("feeds:calendar", args=[calendars.secret_of(user)]))
        feed = calendars.calendar_of(person, now=timezone.now())
        return Response(feed, headers={"Link": f'<{address}>; rel="self"'})


@require_GET
def calendar(request: HttpRequest, secret: str) -> HttpResponse:
    """The feed for a calendar program, which cannot sign in: the address is the secret."""
    person = calendars.person_of(secret)
    answer = HttpResponse(calendars.calendar_of(person, now=timezone.now()), content_type=f"{CALENDAR}; charset=utf-8")
    answer["Cache-Control"] = "private, no-store"
    answer["Referrer-Policy"] = "no-referrer"
    return answer
