"""Pages of lists: `limit` and `offset`; where the next one is stands in the `Link` header (RFC 8288)."""

from typing import Any

from drf_spectacular.utils import OpenApiParameter
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.utils.urls import replace_query_param

from jobs.refusals import Unusable

LARGEST_PAGE = 1_000
LARGEST_OFFSET = 10_000_000
_LIMIT = {"type": "integer", "minimum": 1, "maximum": LARGEST_PAGE}
_OFFSET = {"type": "integer", "minimum": 0, "maximum": LARGEST_OFFSET}
PAGE = [
    OpenApiParameter("limit", _LIMIT, description="At most so many."),
    OpenApiParameter("offset", _OFFSET, description="After so many."),
]


def checked_page(request: Request) -> tuple[int, int]:
    """
    What was asked for: at most how many, after how many.

    :raises Unusable: if one is no whole number within its bounds.
    """
    limit = _whole(request, "limit", 1, LARGEST_PAGE, LARGEST_PAGE)
    return limit, _whole(request, "offset", 0, LARGEST_OFFSET, 0)


def _whole(request: Request, name: str, least: int, most: int, otherwise: int) -> int:
    typed = request.query_params.get(name)
    if typed is None:
        return otherwise
    number = int(typed) if typed.isascii() and typed.isdigit() and len(typed) <= len(str(most)) else -1
    if not least <= number <= most:
        raise Unusable(f"{name} is a whole number from {least} to {most}.", where=name)
    return number


def paged(request: Request, response: Response) -> Response:
    """The part of a list that was asked for; `Total-Count` and `Link` say what there is beside it."""
    limit, offset = checked_page(request)
    rows: list[Any] = response.data
    response.data = rows[offset : offset + limit]
    response["Total-Count"] = str(len(rows))
    links = []
    if offset + limit < len(rows):
        links.append(_link(request, offset + limit, limit, "next"))
    if offset > 0:
        links.append(_link(request, max(offset - limit, 0), limit, "prev"))
    if links:
        response["Link"] = ", ".join(links)
    return response


def _link(request: Request, offset: int, limit: int, relation: str) -> str:
    there = replace_query_param(request.build_absolute_uri(), "offset", offset)
    return f'<{replace_query_param(there, "limit", limit)}>; rel="{relation}"'


def page_shape(name: str, shape: Any) -> type[serializers.Serializer[Any]]:
    """The serializer of one page with its count."""
    fields = {
        "count": serializers.IntegerField(),
        "next": serializers.URLField(allow_null=True),
        "previous": serializers.URLField(allow_null=True),
        "results": shape(many=True),
    }
    return type(f"{name}Page", (serializers.Serializer,), {**fields, "__doc__": "One page, and how many there are."})
