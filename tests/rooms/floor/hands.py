"""What hands do in the warehouse: press a button, read the page."""

import re
from typing import Any
from uuid import uuid4

from django.http import HttpResponse
from django.test import Client

HTML = re.compile(r"<[^>]+>")


def words(response: Any) -> str:
    """What the page says, without its markup."""
    return " ".join(HTML.sub(" ", response.content.decode()).split())


def press(client: Client, address: str, do: str, **typed: Any) -> HttpResponse:
    """Press a button with a key of its own."""
    return client.post(address, {"do": do, "key": uuid4(), **typed})  # type: ignore[return-value]
