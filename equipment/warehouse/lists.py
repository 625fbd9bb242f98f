"""The lists of models and units as files: written out, looked over, and taken in when somebody accepts."""

from dataclasses import replace

from django import forms
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from equipment import stock_lists
from equipment.sheets.checking import BadRows
from equipment.sheets.reading import text_of
from equipment.stock_lists.looking import TABLES
from equipment.warehouse import pages
from equipment.warehouse.answering import answer, read, room
from equipment.warehouse.forms import KeyedForm
from equipment.warehouse.list_pages import NAMES, ListsPage
from jobs import access
from jobs.refusals import NotThere, Refusal

VERBS = {"models": stock_lists.import_models, "units": stock_lists.import_units}


class ListForm(KeyedForm):
    """A file, or its text as it was sent before."""

    list_name = forms.ChoiceField(choices=list(NAMES.items()))
    file = forms.FileField(required=False)
    text = forms.CharField(required=False, strip=False, widget=forms.Textarea)


@room
@require_GET
def export(request: HttpRequest, code: str, list_name: str) -> HttpResponse:
    """One list as a file."""
    there = pages.place(code, request.user)  # type: ignore[arg-type]
    if list_name not in TABLES:
        raise NotThere("There is no such list. Choose models or units.")
    text = stock_lists.models_csv() if list_name == "models" else stock_lists.units_csv(area_id=there.area_id)
    name = f"{list_name}-{timezone.now().astimezone(there.zone):%Y-%m-%d}.csv"
    return HttpResponse(
        text.encode(),
        content_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )


@room
@require_http_methods(["GET", "POST"])
def lists(request: HttpRequest, code: str) -> HttpResponse:
    """Both lists; a file is looked over first, and taken in only when that is accepted."""
    desk = pages.Desk(pages.place(code, request.user), "lists")  # type: ignore[arg-type]
    page = ListsPage(tuple(name for name in NAMES if access.may(request.user, f"import_{name}")))
    status = 200
    if request.method == "POST":
        page, status = _asked(request, desk.place.area_id, page)
    return answer(request, "lists", desk, status, page=page)


def _asked(request: HttpRequest, area_id: int, page: ListsPage) -> tuple[ListsPage, int]:
    """Look the file over; where that was accepted, take it in. What was sent is shown again after a refusal."""
    try:
        values = read(ListForm(request.POST, request.FILES), request)
        content = values["file"].read() if values["file"] else None
        text = values["text"] if content is None else content.decode("utf-8-sig", errors="replace")
        page = replace(page, list_name=values["list_name"], text=text)
        if content is not None:
            text_of(content, values["file"].name)
        if request.POST.get("do") != "accept":
            looked = stock_lists.look_over(list_name=page.list_name, text=text, area_id=area_id, now=values["now"])
            return replace(page, looked=looked), 422 if looked.problems else 200
        imported = VERBS[page.list_name](
            key=values["key"], actor=values["actor"], now=values["now"], area_id=area_id, text=text
        )
        return replace(page, imported=imported, text=""), 200
    except BadRows:
        looked = stock_lists.look_over(list_name=page.list_name, text=page.text, area_id=area_id, now=timezone.now())
        return replace(page, looked=looked), BadRows.status
    except Refusal as refusal:
        return replace(page, refused=refusal.message), refusal.status
