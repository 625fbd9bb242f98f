"""Wrong passwords, by page and by API: closed for a while, by account and address, and said so with a time."""

from datetime import timedelta
from typing import Any

from axes.attempts import get_cool_off_threshold
from axes.handlers.database import AxesDatabaseHandler
from axes.helpers import get_client_ip_address
from axes.models import AccessAttempt
from django.conf import settings
from django.db.models import Sum
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from config.errors import API, problem_answer

# A whole warehouse signs in from one address: that many times the limit of one account closes the address.
ACCOUNTS_BEHIND_AN_ADDRESS = 5


class ByAccountAndAddress(AxesDatabaseHandler):  # type: ignore[misc]
    """One account from one address has the limit's tries; all accounts together from one address five times that."""

    def get_failures(self, request: HttpRequest, credentials: dict[str, Any] | None = None) -> int:
        """Failures counted against the limit of one account."""
        mine: int = super().get_failures(request, credentials)
        tried = AccessAttempt.objects.filter(
            ip_address=get_client_ip_address(request), attempt_time__gte=get_cool_off_threshold(request)
        )
        of_address = tried.aggregate(total=Sum("failures_since_start"))["total"] or 0
        return max(mine, of_address // ACCOUNTS_BEHIND_AN_ADDRESS)


def locked_out(request: HttpRequest, response: HttpResponse | None, credentials: dict[str, Any] | None) -> HttpResponse:
    """429 with `Retry-After`: a page for a person, problem details for a program."""
    wait = timedelta(hours=settings.AXES_COOLOFF_TIME)
    minutes = int(wait.total_seconds() // 60)
    after = {"Retry-After": str(int(wait.total_seconds()))}
    if not request.path.startswith(API):
        page = render(request, "locked_out.html", {"minutes": minutes}, status=429)
        page["Retry-After"] = after["Retry-After"]
        return page
    detail = f"There were too many wrong passwords. Wait {minutes} minutes, then try again."
    return problem_answer(429, "too_many_sign_ins", detail, **after)
