"""What a page's form sent beside its fields: its key, and the number of the thing that a button is about."""

from uuid import UUID

from django.http import HttpRequest

from jobs.refusals import Unusable


def key_of(request: HttpRequest) -> UUID:
    """
    The key that was made with the form.

    :raises Unusable: if it is none.
    """
    try:
        return UUID(request.POST.get("key", ""))
    except ValueError as error:
        raise Unusable("This form lost its key. Load the page again and send it once more.") from error


def whole_of(request: HttpRequest, name: str) -> int:
    """
    The whole number that a form of ours put there.

    :raises Unusable: if it is none.
    """
    try:
        return int(request.POST.get(name, ""))
    except ValueError as error:
        raise Unusable("This form lost what it is about. Load the page again and send it once more.") from error


def whole(text: str | None) -> int | None:
    """The whole number of up to 18 digits that the text is; None for every other text."""
    typed = (text or "").strip()
    return int(typed) if typed.isdecimal() and len(typed) <= 18 else None
