"""How a program signs in to the API."""

from typing import Any

from drf_spectacular.extensions import OpenApiAuthenticationExtension
from rest_framework.authentication import BasicAuthentication
from rest_framework.request import Request


class BasicSignIn(BasicAuthentication):
    """Name and password with each request, counted like the page's."""

    def authenticate_credentials(self, userid: str, password: str, request: Any = None) -> Any:
        """The page's middleware looks at Django's own request, which DRF wraps."""
        plain = request._request if isinstance(request, Request) else request
        return super().authenticate_credentials(userid, password, plain)


class BasicSignInDescription(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]
    """For the schema: name and password, as HTTP has it."""

    target_class = BasicSignIn
    name = "basicAuth"

    def get_security_definition(self, auto_schema: Any) -> dict[str, str]:
        """The scheme's object of OpenAPI."""
        return {"type": "http", "scheme": "basic"}
