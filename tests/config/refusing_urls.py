"""Addresses that refuse or fail, for the tests of what a person and a program are answered."""

from typing import Any, NoReturn

from django.core.exceptions import PermissionDenied
from django.db import OperationalError
from django.http import HttpRequest
from django.urls import path
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from config import urls
from jobs.refusals import ChangedMeanwhile


class Figure(serializers.Serializer[Any]):
    """One whole number."""

    count = serializers.IntegerField(min_value=1)


class Api(APIView):
    """Refuses every GET, checks every POST."""

    permission_classes = ()

    def get(self, request: Request) -> NoReturn:
        raise ChangedMeanwhile("The count is 4 by now. Look and send it again.", where="count", now=4)

    def post(self, request: Request) -> Response:
        Figure(data=request.data).is_valid(raise_exception=True)
        return Response()


def refuse(request: HttpRequest) -> NoReturn:
    raise ChangedMeanwhile("The <count> is 4 by now. Look and send it again.", where="count", now=4)


def forbid(request: HttpRequest) -> NoReturn:
    raise PermissionDenied("Only a manager opens this page.")


def fail(request: HttpRequest) -> NoReturn:
    raise ZeroDivisionError


def without_database(request: HttpRequest) -> NoReturn:
    raise OperationalError("the connection is lost")


handler500 = urls.handler500
urlpatterns = [
    path("api", Api.as_view()),
    path("api/fail", fail),
    path("api/away", without_database),
    path("away", without_database),
    path("refuse", refuse),
    path("forbid", forbid),
    path("fail", fail),
    *urls.urlpatterns,
]
