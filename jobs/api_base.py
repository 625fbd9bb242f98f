"""
What every API view shares: the client-made key, the verb it needs, and answers made from frozen dataclasses.

    class TakeCall(UseCaseView):
        verbs = {"POST": "take_call"}

        @writes(TakeCallIn, CallTaken, status=201)
        def post(self, request: Request) -> Response:
            return self.answer(intake.take_call(**self.common(request), **read(TakeCallIn, request)), status=201)
"""

from collections.abc import Callable
from dataclasses import fields, is_dataclass
from functools import cache
from typing import Any, ClassVar, TypeVar
from uuid import UUID
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from django.http import QueryDict
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.permissions import SAFE_METHODS, BasePermission, IsAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.settings import api_settings
from rest_framework.views import APIView
from rest_framework_dataclasses.serializers import DataclassSerializer

from jobs import access, areas
from jobs.api_paging import PAGE, checked_page, page_shape, paged
from jobs.api_positions import ByPosition, by_position
from jobs.api_tags import check_unchanged, with_tag
from jobs.refusals import NotAllowed, Refusal

View = TypeVar("View", bound=Callable[..., Response])


class KeyMissing(Refusal):
    """A write came without a key, so that a repeated one could not be told from a second one."""

    code = "key_missing"
    status = 400


class KeyMalformed(Refusal):
    """The key is no UUID."""

    code = "key_malformed"
    status = 400


@extend_schema_field(OpenApiTypes.STR)
class TimeZoneName(serializers.Field[ZoneInfo, str, str, Any]):
    """A time zone by its name, such as America/Los_Angeles."""

    def to_internal_value(self, data: str) -> ZoneInfo:
        try:
            return ZoneInfo(data)
        except (ValueError, ZoneInfoNotFoundError) as error:
            raise serializers.ValidationError(f"{data!r} is no time zone; America/Los_Angeles would be one.") from error

    def to_representation(self, value: ZoneInfo) -> str:
        return value.key


class Shape(DataclassSerializer[Any]):
    """The serializer of a frozen dataclass, with the types that our dataclasses use beyond the usual ones."""

    serializer_field_mapping = {**DataclassSerializer.serializer_field_mapping, ZoneInfo: TimeZoneName}

    @property
    def serializer_dataclass_field(self) -> type["Shape"]:
        """The serializer of a dataclass inside this one."""
        return Shape

    def build_typed_field(self, field_name: str, type_info: Any, extra_kwargs: Any) -> Any:
        """A tuple whose places mean different things is no list of its first place."""
        kind = self.dataclass_definition.field_types[field_name]
        if by_position(kind):
            return ByPosition, {"kind": kind, "shape_of": shape_of}
        return super().build_typed_field(field_name, type_info, extra_kwargs)

    def build_standard_field(self, field_name: str, type_info: Any) -> Any:
        """A field of no fixed type, such as an answer on the phone, is any JSON."""
        if type_info.base_type is Any:
            return serializers.JSONField, {}
        return super().build_standard_field(field_name, type_info)


def key_of(request: Request) -> UUID:
    """
    The client-made key of a write: the `Idempotency-Key` header, or `key` in the body.

    :raises KeyMissing: if there is neither.
    :raises KeyMalformed: if it is no UUID.
    """
    in_body = request.data.get("key") if isinstance(request.data, dict) else None
    given = request.headers.get("Idempotency-Key") or in_body
    if not given:
        raise KeyMissing("Every write needs a key: send a new UUID as Idempotency-Key, or as key in the body.")
    try:
        return UUID(str(given).strip().strip('"'))
    except ValueError as error:
        raise KeyMalformed(f"{given!r} is no UUID. Send a new one as Idempotency-Key.") from error


class MayUse(BasePermission):
    """Asks the one table of roles and verbs for the verb that the view names for the method."""

    def has_permission(self, request: Request, view: Any) -> bool:
        verb = view.verbs.get(request.method)
        if verb is not None:
            access.require(request.user, verb)
        else:
            access.require_reading(request.user)
        areas.require_sight(request.user, view.kwargs)
        if verb is not None and view.writers is not None and not view.writers & access.roles_of(request.user):
            raise NotAllowed("A crew lead does this at the stop on their own route.", verb=verb)
        if verb is None and view.roles is not None and not view.roles & access.roles_of(request.user):
            allowed = ", ".join(sorted(access.ROLES[role] for role in view.roles))
            raise NotAllowed(f"This is open to: {allowed}. Sign in with such a role.")
        return True


class UseCaseView(APIView):
    """
    A view that reads what was sent, makes one call, and answers.

    `verbs` = {method: use case}; `roles` may read; `writers` narrows who may write beyond the verb. `state_of`: the
    view whose read names the state that a write changes, for `If-Match`; a view that reads and writes names its own.
    """

    permission_classes = [IsAuthenticated, MayUse]
    verbs: ClassVar[dict[str, str]] = {}
    roles: ClassVar[frozenset[str] | None] = None
    writers: ClassVar[frozenset[str] | None] = None
    state_of: ClassVar[type[Any] | None] = None

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        """Signed in, allowed, a page that can be meant, and a write made on the state that it names."""
        super().initial(request, *args, **kwargs)
        checked_page(request)
        if request.method not in SAFE_METHODS and request.headers.get("If-Match"):
            own = type(self) if hasattr(self, "get") else None
            check_unchanged(request, self.state_of or own, str(key_of(request)), **kwargs)

    def finalize_response(self, request: Request, response: Any, *args: Any, **kwargs: Any) -> Response:
        """Every JSON read carries its entity tag, and every list comes in pages."""
        if request.method == "GET" and response.status_code == 200 and isinstance(response, Response):
            response = with_tag(request, response) if not isinstance(response.data, str | bytes) else response
            # After the tag, which names the whole state whatever part of it is read.
            response = paged(request, response) if isinstance(response.data, list) else response
        found: Response = super().finalize_response(request, response, *args, **kwargs)
        return found

    def common(self, request: Request) -> dict[str, Any]:
        """The arguments that every use case takes; the clock is read here, once."""
        return {"key": key_of(request), "actor": request.user, "now": timezone.now()}

    def answer(self, value: Any, status: int = 200) -> Response:
        """A frozen dataclass, or several, as JSON."""
        many = isinstance(value, (list, tuple))
        kind: Any = type(value[0]) if many and value else type(value)
        if many and not value:
            return Response([], status=status)
        return Response(shape_of(kind)(value, many=many).data, status=status)

    def page(self, values: Any, kind: type, request: Request) -> Response:
        """One page (`limit`, `offset`) of a sequence of frozen dataclasses, with how many there are in all."""
        pages: Any = api_settings.DEFAULT_PAGINATION_CLASS
        paginator = pages()
        chosen = paginator.paginate_queryset(values, request, view=self)
        answer: Response = paginator.get_paginated_response(shape_of(kind)(chosen, many=True).data)
        return answer


def read(shape: type[serializers.Serializer[Any]], request: Request) -> dict[str, Any]:
    """What was sent, checked; wrong or unknown fields are refused by name, never dropped."""
    sent = request.data
    if isinstance(sent, dict):
        # A form of several parts keeps a list of every field; none of ours is one.
        sent = sent.dict() if isinstance(sent, QueryDict) else dict(sent)
        sent.pop("key", None)
        unknown = sorted(set(sent) - _names(shape))
        if unknown:
            raise serializers.ValidationError({name: ["There is no such field."] for name in unknown})
    checked = shape(data=sent)
    checked.is_valid(raise_exception=True)
    return dict(checked.validated_data)


@cache
def _names(shape: type[serializers.Serializer[Any]]) -> frozenset[str]:
    return frozenset(shape().fields)


@cache
def shape_of(kind: type) -> type[DataclassSerializer[Any]]:
    """The serializer of a frozen dataclass, made once."""
    if not is_dataclass(kind):
        raise TypeError(f"{kind!r} is no dataclass")
    meta = type("Meta", (), {"dataclass": kind, "fields": [field.name for field in fields(kind)]})
    return type(kind.__name__, (Shape,), {"Meta": meta, "__doc__": kind.__doc__})


def writes(
    sent: type[serializers.Serializer[Any]] | dict[str, Any] | None,
    answered: type,
    *,
    status: int = 200,
    many: bool = False,
    **more: Any,
) -> Callable[[View], View]:
    """Document a write: its key, its body, its answer. What every operation has in common is in `config.api_schema`."""
    key = OpenApiParameter(
        "Idempotency-Key",
        OpenApiTypes.UUID,
        OpenApiParameter.HEADER,
        description="A UUID made by the client. The same key again returns the first answer; "
        "the same key with other content is refused. It may stand as `key` in the body instead.",
    )
    shape: Any = shape_of(answered)
    matched = OpenApiParameter(
        "If-Match",
        OpenApiTypes.STR,
        OpenApiParameter.HEADER,
        description="The entity tag of the read that this write was made on; changed since, it is refused with 412.",
    )
    responses = {(status, "application/json"): shape(many=True) if many else shape}
    return extend_schema(request=sent, responses=responses, parameters=[key, matched], **more)


def reads(answered: type, *, many: bool = False, counted: bool = False, **more: Any) -> Callable[[View], View]:
    """Document a read; `counted`: one `page` of many, which says how many there are."""
    shape: Any = shape_of(answered)
    if counted:
        shown = {(200, "application/json"): page_shape(answered.__name__, shape)}
        return extend_schema(responses=shown, parameters=[*PAGE, *more.pop("parameters", ())], **more)
    if many:
        more["parameters"] = [*PAGE, *more.get("parameters", ())]
    return extend_schema(responses={(200, "application/json"): shape(many=many)}, **more)
