"""Sheets for the change of shift, as pages and on paper."""

from django.conf import settings
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from dispatch.desk.handover_pages import handover_sheet
from dispatch.desk.handover_paper import handover_pdf
from dispatch.desk.help_pages import PARTS
from dispatch.desk.night_pages import night_board
from dispatch.desk.night_paper import night_pdf
from dispatch.desk.views import area_of
from equipment.sizing_paper import file_answer
from jobs import access


@login_required
@require_GET
def handover(request: HttpRequest) -> HttpResponse:
    """`/desk/handover`."""
    access.require_room(request.user, "desk")
    page = handover_sheet(area=area_of(request), now=timezone.now())
    timezone.activate(page.zone)
    return render(request, "dispatch/desk/handover.html", {"page": page})


@login_required
@require_GET
def handover_paper(request: HttpRequest) -> HttpResponse:
    """`/desk/handover.pdf`."""
    access.require_room(request.user, "desk")
    return file_answer(handover_pdf(handover_sheet(area=area_of(request), now=timezone.now())))


@login_required
@require_GET
def how_it_works(request: HttpRequest) -> HttpResponse:
    """`/desk/how`."""
    access.require_room(request.user, "desk")
    return render(request, "dispatch/desk/how_it_works.html", {"parts": PARTS})


@login_required
@require_GET
def tonight(request: HttpRequest) -> HttpResponse:
    """`/desk/tonight`."""
    access.require_room(request.user, "desk")
    page = night_board(area=area_of(request), now=timezone.now())
    timezone.activate(page.zone)
    context = {"page": page, "hourly": settings.BOARD_KEEP, "folder": settings.BOARD_FOLDER}
    return render(request, "dispatch/desk/night.html", context)


@login_required
@require_GET
def tonight_paper(request: HttpRequest) -> HttpResponse:
    """`/desk/tonight.pdf`."""
    access.require_room(request.user, "desk")
    return file_answer(night_pdf(night_board(area=area_of(request), now=timezone.now())))
