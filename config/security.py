"""The content security policy: everything from our own address, no inline script, no inline style."""

from collections.abc import Callable
from urllib.parse import urlsplit

from django.conf import settings
from django.http import HttpRequest, HttpResponse


def policy(tile_address: str) -> str:
    """The header's value. `tile_address` is a map tile template such as "https://{s}.tile.example/{z}/{x}/{y}.png"."""
    pictures = ["'self'", "data:"]
    if tile_address:
        parts = urlsplit(tile_address)
        pictures.append(f"{parts.scheme}://{parts.netloc.replace('{s}', '*')}")
    rules = {
        "default-src": "'none'",
        "script-src": "'self'",
        "style-src": "'self'",
        "img-src": " ".join(pictures),
        "font-src": "'self'",
        "connect-src": "'self'",
        "manifest-src": "'self'",
        "worker-src": "'self'",
        "form-action": "'self'",
        "base-uri": "'none'",
        "frame-ancestors": "'none'",
    }
    return "; ".join(f"{name} {value}" for name, value in rules.items())


class ContentSecurityPolicy:
    """Middleware that sets the policy on every answer that has none of its own."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response
        self.policy = policy(settings.TILE_ADDRESS)

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        response.headers.setdefault("Content-Security-Policy", self.policy)
        return response
