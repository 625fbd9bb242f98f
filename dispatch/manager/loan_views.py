"""The page of what other firms lend: take on a crew, take in units, hold them, end a loan."""

from datetime import datetime, timedelta
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from dispatch import lending as crews
from dispatch.desk.views import area_of
from dispatch.manager import loans
from dispatch.manager.loan_forms import CrewForm, LoanForm, UnitsForm
from equipment import lending as units
from equipment import reservations
from equipment.models import Loan
from jobs import access
from jobs.models import Area, Job
from jobs.people import signed_in
from jobs.refusals import NotThere, Refusal, Unusable
from jobs.sent import key_of, whole, whole_of

# Lent units are asked for by name for one job; whoever holds them has the night to load them.
KEPT_FOR = timedelta(hours=12)


@login_required
@require_http_methods(["GET", "POST"])
def loans_page(request: HttpRequest) -> HttpResponse:
    """`/manager/loans`."""
    access.require_room(request.user, "manager")
    area, now = area_of(request), timezone.now()
    timezone.activate(area.zone)
    forms: dict[str, LoanForm] = {
        "units": UnitsForm(area=area, auto_id="units-%s", initial={"starts_at": now}),
        "crew": CrewForm(area=area, auto_id="crew-%s", initial={"starts_at": now}),
    }
    refusal, status, typed = None, 200, request.POST.get("do", "")
    if request.method == "POST":
        if typed in forms:
            forms[typed] = type(forms[typed])(request.POST, area=area, auto_id=f"{typed}-%s")
        try:
            said = _do(request, typed, forms, area, now)
        except Refusal as error:
            refusal, status = error, error.status
        else:
            if said:
                messages.success(request, said)
                return redirect("manager:loans")
            status = 422
    context = {
        "page": loans.loans(area=area, now=now),
        "units_form": forms["units"],
        "crew_form": forms["crew"],
        "cards": crews.known_cards(),
        "refusal": refusal,
        "typed": typed,
        "held": {**request.POST.dict(), "pool": whole(request.POST.get("pool"))},
    }
    return render(request, "dispatch/manager/loans.html", context, status=status)


def _do(request: HttpRequest, does: str, forms: dict[str, LoanForm], area: Area, now: datetime) -> str:
    """What was done, in words; empty where the form was not filled in rightly."""
    common: dict[str, Any] = {"key": key_of(request), "actor": signed_in(request.user), "now": now}
    if does in forms:
        return _lend(forms[does], common)
    if does == "end":
        ended = crews.end_loan(**common, loan_id=whole_of(request, "loan"))
        back = f" Back go {', '.join(ended.numbers)}." if ended.numbers else ""
        return f"The loan is ended.{back}"
    if does == "hold":
        return _hold(request, common, area)
    raise Unusable("This button is not known here. Load the page again.")


def _lend(form: LoanForm, common: dict[str, Any]) -> str:
    if not form.is_valid():
        return ""
    if isinstance(form, CrewForm):
        crews.lend_crew(**common, **form.told())
        return f"{form.cleaned_data['name']} is offered from now on, as lent by {form.cleaned_data['firm']}."
    lent = units.lend_units(**common, **form.cleaned_data)
    return f"Taken in: {', '.join(lent.numbers)}, lent by {form.cleaned_data['firm']}."


def _hold(request: HttpRequest, common: dict[str, Any], area: Area) -> str:
    number = request.POST.get("job", "").strip().upper()
    job = Job.objects.filter(area=area, number=number).first()
    if job is None:
        raise NotThere(f"There is no job {number or 'without a number'}. Write it as on the board, such as J-1001.")
    count = whole(request.POST.get("count"))
    if not count:
        raise Unusable("Say how many units the job is to have.", where="count")
    loan = Loan.objects.filter(pk=whole_of(request, "loan"), area=area, ended_at=None).first()
    if loan is None:
        raise NotThere("This loan was ended. Load the page again.")
    reservations.hold(
        **common,
        job_id=job.pk,
        wanted=((whole_of(request, "pool"), count),),
        starts_at=common["now"],
        ends_at=loan.ends_at,
        keep_for=KEPT_FOR,
        leads_reason=f"{loan}",
    )
    return f"Held for {job.number}: {count}, {loan}, for 12 hours or until they are loaded."
