"""Everything that the rooms can do can be done over HTTP: every verb, every list in pages, every write with its key."""

from collections.abc import Iterator
from typing import Any

import pytest
from django.urls import URLResolver, get_resolver

from jobs import access
from jobs.api_base import UseCaseView
from tests.config.api_world import description

# Verbs without an address of their own, and why.
WITHOUT = {
    "hear_practice_line": "only in the process of a practice night, which has no API",
    "import_company": "by `manage.py import_company` alone, by whoever runs the machine",
    "record_stop_readings": "one form of two verbs, a new point and readings, which have an address each",
    "ring_practice_call": "only in the process of a practice night, which has no API",
}
# Writes that begin something, or say what happened, have no state that somebody else could have changed before.
READS_NEEDING_NO_TAG = {"application/pdf", "text/csv", "image/jpeg", "text/calendar"}


def views(resolver: Any = None, before: str = "") -> Iterator[tuple[str, UseCaseView]]:
    """Every address of the API with a view of it."""
    for part in (resolver or get_resolver()).url_patterns:
        address = before + str(part.pattern)
        if isinstance(part, URLResolver):
            yield from views(part, address)
        elif isinstance(kind := getattr(part.callback, "cls", None), type) and issubclass(kind, UseCaseView):
            yield address, kind(**part.callback.initkwargs)


def operations() -> Iterator[tuple[str, str, dict[str, Any]]]:
    for address, item in description()["paths"].items():
        for method in {"get", "post", "put", "patch", "delete"} & set(item):
            yield method, address, item[method]


def test_every_verb_that_somebody_holds_has_an_address() -> None:
    reached = {verb for _, view in views() for verb in view.verbs.values()}
    held = {verb for verb, roles in access.VERBS.items() if roles}

    assert held - reached == set(WITHOUT)


def test_every_write_is_of_a_verb_of_the_table() -> None:
    """So that its role is asked for: a method without a verb is a read."""
    for address, view in views():
        for method in ("post", "put", "patch", "delete"):
            if hasattr(view, method) and not address.endswith(("/try", "/dry-run", "/here", "/<str:token>")):
                assert view.verbs.get(method.upper()) in access.VERBS, address


@pytest.mark.parametrize("kind", ["list", "write", "read"])
def test_every_operation_has_what_its_kind_has(kind: str) -> None:
    seen = 0
    for method, address, operation in operations():
        named = {part["name"] for part in operation.get("parameters", [])}
        answer = operation["responses"].get("200", {})
        shapes = [content["schema"] for content in answer.get("content", {}).values()]
        if kind == "list" and method == "get" and any(shape.get("type") == "array" for shape in shapes):
            assert {"limit", "offset"} <= named, address
            assert {"Total-Count", "Link"} <= set(answer["headers"]), address
        elif kind == "write" and method != "get" and not address.endswith(("/try", "/dry-run", "/here")):
            assert {"Idempotency-Key", "If-Match"} <= named, address
        elif kind == "read" and method == "get" and not READS_NEEDING_NO_TAG & set(answer["content"]):
            assert "ETag" in answer["headers"], address
            assert "304" in operation["responses"], address
        else:
            continue
        seen += 1
    assert seen > 20
