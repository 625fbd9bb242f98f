"""What a page may do: everything from our own address, no inline script or style; camera and position for crews."""

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


# A crew lead's own phone gives its position and reads labels with its camera; no other page asks for either.
CREW_PAGES = "/crew"
CLOSED = "camera=(), geolocation=(), microphone=(), payment=(), usb=()"
ON_CREW_PAGES = "camera=(self), geolocation=(self), microphone=(), payment=(), usb=()"


def permissions(path: str) -> str:
    """What a page may ask the device for, as the value of `Permissions-Policy`."""
    return ON_CREW_PAGES if path == CREW_PAGES or path.startswith(f"{CREW_PAGES}/") else CLOSED


class ContentSecurityPolicy:
    """Middleware that sets both policies on every answer that has none of its own."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response
        self.policy = policy(settings.TILE_ADDRESS)

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        response.headers.setdefault("Content-Security-Policy", self.policy)
        response.headers.setdefault("Permissions-Policy", permissions(request.path))
        return response
