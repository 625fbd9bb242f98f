"""The phone's position as a form brings it: beside a report, or alone."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.models import User
from django.http import HttpRequest

from dispatch.crew import forms
from dispatch.positions import tell_position
from jobs.refusals import Refusal
from jobs.use_case import key_for


@dataclass(frozen=True)
class SentPosition:
    """Where the phone was, and when."""

    lat: float
    lon: float
    accuracy_m: float
    at: datetime


def position_in(typed: Mapping[str, str], now: datetime) -> SentPosition | None:
    """
    The position in a form, by the time of the form less its own age; none where it brings none.

    :raises Unusable: if a part of it is no number.
    """
    if not typed.get("position_lat"):
        return None
    age_s = forms.number(typed.get("position_age_s", "0"), "position_age_s")
    return SentPosition(
        lat=forms.number(typed["position_lat"], "position_lat"),
        lon=forms.number(typed.get("position_lon", ""), "position_lon"),
        accuracy_m=forms.number(typed.get("position_accuracy_m", ""), "position_accuracy_m"),
        at=(forms.happened_at(typed) or now) - timedelta(seconds=max(0.0, age_s)),
    )


def tell_with(request: HttpRequest, *, actor: User, now: datetime) -> None:
    """Keep the position that came with a report. The report is kept already, so a refusal is only said."""
    try:
        sent = position_in(request.POST, now)
        if sent is not None:
            tell_position(
                key=key_for(UUID(request.POST["key"]), "position"),
                actor=actor,
                now=now,
                lat=sent.lat,
                lon=sent.lon,
                accuracy_m=sent.accuracy_m,
                happened_at=sent.at,
            )
    except Refusal as refusal:
        messages.warning(request, refusal.message)
