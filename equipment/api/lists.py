"""The lists of models and units over HTTP: written out, looked over without writing anything, and taken in."""

from dataclasses import dataclass
from typing import Any

from django.http import HttpResponse
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from equipment import stock_lists
from equipment.api.shared import READERS, area_of
from equipment.api.sizing import Either
from equipment.stock_lists.looking import MOST_CHARACTERS
from jobs.api_base import UseCaseView, read, shape_of, writes


class ListIn(serializers.Serializer[Any]):
    """A list as a CSV file's text, in the columns in which it is written out."""

    text = serializers.CharField(max_length=MOST_CHARACTERS, trim_whitespace=False)


@dataclass(frozen=True)
class BadRow:
    """One thing to put right: the line of the file, the column (empty: the whole row) and what is wrong."""

    line: int
    column: str
    reason: str


@dataclass(frozen=True)
class ListChange:
    """One value of a row that is known, in words, as it is and as the file has it."""

    line: int
    key: str
    column: str
    was: str
    becomes: str


@dataclass(frozen=True)
class WouldDo:
    """What a file would do. With any problem all of it is refused; `stays`: where the record is followed instead."""

    problems: tuple[BadRow, ...]
    new: tuple[str, ...]
    changes: tuple[ListChange, ...]
    same: int
    stays: tuple[str, ...]


def would_do(found: stock_lists.LookedOver, key: str) -> WouldDo:
    """What was looked over, in plain words and figures; `key` is the column that names a row."""
    return WouldDo(
        tuple(BadRow(problem.line, problem.column, problem.reason) for problem in found.problems),
        tuple(row.values[key] for row in found.new),
        tuple(ListChange(row.line, row.key, row.column, row.was, row.becomes) for row in found.changes),
        found.same,
        found.stays,
    )


class ListFileView(UseCaseView):
    """A list as a CSV file: the models of the company, or the units of an area (`?area=CODE`)."""

    roles = READERS
    content_negotiation_class = Either
    list_name = "units"

    @extend_schema(responses={(200, "text/csv"): OpenApiTypes.STR})
    def get(self, request: Request) -> HttpResponse:
        models = self.list_name == "models"
        text = stock_lists.models_csv() if models else stock_lists.units_csv(area_id=area_of(request).pk)
        return HttpResponse(text, content_type="text/csv; charset=utf-8")


class DryRunView(UseCaseView):
    """What a file would do: every bad row by line and reason. Nothing is written, so it needs no key."""

    list_name = "units"

    @property
    def verbs(self) -> dict[str, str]:  # type: ignore[override]
        """Whoever may take the list in may look it over."""
        return {"POST": f"import_{self.list_name}"}

    @extend_schema(request=ListIn, responses={(200, "application/json"): shape_of(WouldDo)})
    def post(self, request: Request) -> Response:
        sent, area = read(ListIn, request), area_of(request)
        found = stock_lists.look_over(list_name=self.list_name, area_id=area.pk, now=timezone.now(), **sent)
        return self.answer(would_do(found, "code" if self.list_name == "models" else "number"))


class ImportModelsView(UseCaseView):
    """Take models in: all of them, or, where any row is bad, none (`problems` names each)."""

    verbs = {"POST": "import_models"}

    @writes(ListIn, stock_lists.Imported)
    def post(self, request: Request) -> Response:
        sent, area = read(ListIn, request), area_of(request)
        return self.answer(stock_lists.import_models(**self.common(request), area_id=area.pk, **sent))


class ImportUnitsView(UseCaseView):
    """Take units in: all of them, or, where any row is bad, none (`problems` names each). A file moves no unit."""

    verbs = {"POST": "import_units"}

    @writes(ListIn, stock_lists.Imported)
    def post(self, request: Request) -> Response:
        sent, area = read(ListIn, request), area_of(request)
        return self.answer(stock_lists.import_units(**self.common(request), area_id=area.pk, **sent))
