"""
The secret in the link of a page, by which the asked person answers without signing in.

It is made from the program's own secret whenever it is sent; only its hash is stored, so that nobody who reads the
database, or a message kept in it, can answer for somebody else.
"""

import base64
import hashlib
from datetime import UTC

from django.conf import settings
from django.urls import reverse
from django.utils.crypto import salted_hmac

from dispatch.models import CallOutStep

# 128 bits: 22 characters of a message, and more than can ever be guessed.
TOKEN_BYTES = 16


def token_of(step: CallOutStep) -> str:
    """The token of the step's page: the same at every try to send it."""
    asked = f"{step.call_out_id}/{step.number}/{step.asked_at.astimezone(UTC).isoformat()}"
    digest = salted_hmac("ebbline.answer_link", asked, algorithm="sha256").digest()
    return base64.urlsafe_b64encode(digest[:TOKEN_BYTES]).decode("ascii").rstrip("=")


def hash_of(token: str) -> str:
    """What is stored of a token."""
    return hashlib.sha256(token.encode()).hexdigest()


def link_to(step: CallOutStep) -> str:
    """The link for the step's page; empty where the program's address from outside is not set."""
    if not settings.ADDRESS:
        return ""
    return settings.ADDRESS + reverse("crew:answer_link", args=[token_of(step)])
