"""
Entity tags (RFC 9110, 8.8.3): every JSON read carries one, and a write may say which state it was made on.

`If-None-Match` on a read answers 304 without a body; `If-Match` on a write is refused with 412 where somebody has
changed the thing since. It is checked when the write arrives; the use case's own locks and the versions of a call's
fields still hold after that.
"""

from hashlib import sha256
from inspect import signature
from typing import Any

from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response

from jobs.models import UseCaseCall
from jobs.refusals import Refusal


class ChangedSince(Refusal):
    """A write was made on a state (`If-Match`) that is no longer there."""

    code = "changed_since"
    status = 412


def tag_of(data: Any) -> str:
    """The strong entity tag of what a read answers."""
    return f'"{sha256(JSONRenderer().render(data)).hexdigest()[:32]}"'


def tags_in(header: str) -> frozenset[str]:
    """The entity tags of an If-Match or If-None-Match header; weak ones without their mark, `*` as it is."""
    return frozenset(part.strip().removeprefix("W/") for part in header.split(",") if part.strip())


def with_tag(request: Request, response: Response) -> Response:
    """The read with its tag; 304 without a body where the reader has it already."""
    tag = tag_of(response.data)
    known = tags_in(request.headers.get("If-None-Match", ""))
    if known & {tag, "*"}:
        return Response(status=304, headers={"ETag": tag})
    response["ETag"] = tag
    return response


def check_unchanged(request: Request, view: Any, key: str, **where: Any) -> None:
    """
    Refuse a write whose `If-Match` names another state than what a read of `view` answers now.

    A repeated write has changed the state itself: its key is known, and its first answer is given again.

    :raises ChangedSince: if the state is another one, or the address has no state to name.
    """
    wanted = tags_in(request.headers.get("If-Match", ""))
    if not wanted or wanted == {"*"} or UseCaseCall.objects.filter(key=key, actor=request.user.pk).exists():
        return
    if view is None:
        raise ChangedSince("There is no state to match at this address. Send the write without If-Match.")
    # A write at one of a list is made on the state of the list.
    named = {name: value for name, value in where.items() if name in signature(view.get).parameters}
    tag = tag_of(view().get(request, **named).data)
    if tag not in wanted:
        raise ChangedSince("Somebody has changed this since. Read it again, then write on what it says now.", tag=tag)
