"""Counts by model in the night, and the numbers that belong to them."""

from dataclasses import replace

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_http_methods

from equipment import fast_counts, selectors
from equipment.models import EquipmentModel, Vehicle
from equipment.warehouse import pages
from equipment.warehouse.answering import answer, done, read, room, scanned
from equipment.warehouse.forms import ExplainForm, FastCountForm, NumberForm
from jobs.refusals import NotThere


@room
@require_http_methods(["GET", "POST"])
def by_model(request: HttpRequest, code: str) -> HttpResponse:
    """Write down what was taken by model; what awaits its numbers."""
    desk = pages.Desk(pages.place(code, request.user), "by_model")  # type: ignore[arg-type]
    vehicles = Vehicle.objects.filter(area=desk.place.area_id).order_by("name").values_list("pk", "name")
    models = EquipmentModel.objects.filter(loan=None).order_by("kind", "name").values_list("pk", "name")
    choices = {"vehicles": tuple(vehicles), "models": tuple(models)}

    def count() -> pages.Said:
        values = read(FastCountForm(request.POST, **choices), request)
        fast_counts.count_by_model(**values, warehouse_id=desk.place.id)
        names = dict(choices["models"]), dict(choices["vehicles"])
        said = f"{values['quantity']} {names[0][values['model_id']]}"
        return pages.Said(
            pages.RIGHT, f"{said} written down", f"Loaded onto {names[1][values['vehicle_id']]}; the numbers later."
        )

    def explain() -> pages.Said:
        form = ExplainForm(request.POST)
        values = read(form, request)
        who = {name: values[name] for name in ("key", "actor", "now")}
        fast_counts.explain_fast_count(**who, fast_count_id=values["id"], explanation=form.explanation())
        return pages.Said(pages.RIGHT, "Settled without numbers", f"{form.explanation()}.")

    desk, status = done(request, desk, {"count": count, "explain": explain})
    refused = status != 200 and request.POST.get("do") == "count"
    form = FastCountForm(request.POST if refused else None, **choices)
    waiting = selectors.fast_counts(warehouse_id=desk.place.id)
    return answer(request, "by_model", desk, status, form=form, waiting=waiting, reasons=ExplainForm.REASONS)


@room
@require_http_methods(["GET", "POST"])
def numbers(request: HttpRequest, code: str, fast_count_id: int) -> HttpResponse:
    """The numbers of one count, by the big field."""
    desk = pages.Desk(pages.place(code, request.user), "by_model")  # type: ignore[arg-type]

    def scan() -> pages.Said:
        named = fast_counts.name_fast_count(**scanned(request), fast_count_id=fast_count_id)
        # A number is taken back from the count, not only from the journal: each one has its own button.
        return replace(pages.said_of(named.scans), undo=None)

    def take_back() -> pages.Said:
        values = read(NumberForm(request.POST), request)
        fast_counts.take_back_number(**values, fast_count_id=fast_count_id)
        return pages.Said(pages.RIGHT, f"{values['number']} Taken back", "It does not belong to this count any more.")

    waiting = selectors.fast_count(fast_count_id)
    if waiting.warehouse_id != desk.place.id:
        raise NotThere("This count belongs to another warehouse. Choose one from the list.")
    desk, status = done(request, desk, {"scan": scan, "take_back": take_back})
    if request.method == "POST":
        waiting = selectors.fast_count(fast_count_id)
    return answer(request, "numbers", desk, status, waiting=waiting)
