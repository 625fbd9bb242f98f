"""Whose request it is: the caller's own address where a proxy that we trust stands between."""

import ipaddress
from collections.abc import Iterable

from django.conf import settings
from django.http import HttpRequest

from config.env import Network

FORWARDED = "X-Forwarded-For"


def client_address(request: HttpRequest) -> str:
    """
    The nearest address that is not one of our proxies.

    What stands farther left in the header was written by the caller and is believed by nobody.
    """
    here: str = request.META.get("REMOTE_ADDR", "")
    said = [part.strip() for part in request.headers.get(FORWARDED, "").split(",") if part.strip()]
    for before in reversed(said):
        if not _is_proxy(here):
            break
        here = before
    return here


def came_through_a_proxy(request: HttpRequest) -> bool:
    """Whether somebody forwarded it, so that the address it comes from says nothing about who asks."""
    return FORWARDED in request.headers or not request.META.get("REMOTE_ADDR")


def within(address: str, networks: Iterable[Network]) -> bool:
    """Whether the address lies in one of the networks; what is no address lies in none."""
    try:
        asked = ipaddress.ip_address(address)
    except ValueError:
        return False
    return any(asked in network for network in networks)


def _is_proxy(address: str) -> bool:
    # A Unix socket has no address; only a proxy on this machine can speak through it.
    return (not address and bool(settings.PROXIES)) or within(address, settings.PROXIES)
