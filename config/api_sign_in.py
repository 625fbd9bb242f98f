"""How a program signs in to the API."""

from typing import Any

from django.utils import timezone
from drf_spectacular.extensions import OpenApiAuthenticationExtension
from rest_framework.authentication import BaseAuthentication, BasicAuthentication
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.request import Request

from jobs.tokens import token_holder


class BasicSignIn(BasicAuthentication):
    """Name and password with each request, counted like the page's."""

    def authenticate_credentials(self, userid: str, password: str, request: Any = None) -> Any:
        """The page's middleware looks at Django's own request, which DRF wraps."""
        plain: Any = request._request if isinstance(request, Request) else request
        return super().authenticate_credentials(userid, password, plain)


class TokenSignIn(BaseAuthentication):
    """`Authorization: Token ...` or `Bearer ...`: the user of the token, limited to what it may."""

    def authenticate(self, request: Request) -> tuple[Any, str] | None:
        """
        :raises AuthenticationFailed: if the token is none, expired, or revoked; which of these is not said.
        """
        scheme, _, secret = request.headers.get("Authorization", "").partition(" ")
        if scheme.lower() not in {"token", "bearer"}:
            return None
        user = token_holder(secret.strip(), now=timezone.now())
        if user is None:
            raise AuthenticationFailed("This token is not known, expired or revoked. Ask a manager for a new one.")
        return user, secret.strip()[:10]


class TokenSignInDescription(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]
    """For the schema: a token of a program."""

    target_class = TokenSignIn
    name = "tokenAuth"

    def get_security_definition(self, auto_schema: Any) -> dict[str, str]:
        """The scheme's object of OpenAPI."""
        return {"type": "http", "scheme": "bearer"}


class BasicSignInDescription(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]
    """For the schema: name and password, as HTTP has it."""

    target_class = BasicSignIn
    name = "basicAuth"

    def get_security_definition(self, auto_schema: Any) -> dict[str, str]:
        """The scheme's object of OpenAPI."""
        return {"type": "http", "scheme": "basic"}
