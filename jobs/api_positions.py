"""Tuples whose places mean different things, such as (name, number), as JSON arrays that say so."""

from collections.abc import Mapping
from dataclasses import is_dataclass
from types import NoneType, UnionType
from typing import Any, Union, get_args, get_origin

from drf_spectacular.extensions import OpenApiSerializerFieldExtension
from pydantic import TypeAdapter
from rest_framework import serializers


def by_position(kind: Any) -> bool:
    """Whether a tuple of fixed length stands anywhere in this type."""
    parts = get_args(kind)
    if get_origin(kind) is tuple and parts[-1:] != (Ellipsis,):
        return True
    return any(by_position(part) for part in parts)


class ByPosition(serializers.Field[Any, Any, Any, Any]):
    """A value of such a type; it is answered, never sent. `shape_of` makes the serializer of a dataclass inside it."""

    def __init__(self, *, kind: Any, shape_of: Any, **kwargs: Any) -> None:
        super().__init__(read_only=True, **{name: kwargs[name] for name in {"allow_null"} & set(kwargs)})
        self.kind = kind
        self.shape_of = shape_of

    def to_representation(self, value: Any) -> Any:
        return self._shown(value)

    def _shown(self, value: Any) -> Any:
        if is_dataclass(value):
            return self.shape_of(type(value))(value).data
        if isinstance(value, Mapping):
            return {name: self._shown(part) for name, part in value.items()}
        if isinstance(value, (tuple, list, frozenset)):
            return [self._shown(part) for part in value]
        return value


class ByPositionDescription(OpenApiSerializerFieldExtension):  # type: ignore[no-untyped-call]
    """For the schema: one item schema for each place."""

    target_class = ByPosition

    def map_serializer_field(self, auto_schema: Any, direction: Any) -> dict[str, Any]:
        """The JSON schema of the field's type."""
        return self._described(self.target.kind, auto_schema, direction)

    def _described(self, kind: Any, auto_schema: Any, direction: Any) -> dict[str, Any]:
        parts = get_args(kind)
        if is_dataclass(kind):
            ref: dict[str, Any] = auto_schema.resolve_serializer(self.target.shape_of(kind)(), direction).ref
            return ref
        if get_origin(kind) in (Union, UnionType):
            inner = [self._described(part, auto_schema, direction) for part in parts if part is not NoneType]
            return {"anyOf": [*inner, *([{"type": "null"}] if NoneType in parts else [])]}
        if get_origin(kind) is tuple and parts[-1:] == (Ellipsis,):
            return {"type": "array", "items": self._described(parts[0], auto_schema, direction)}
        if get_origin(kind) is tuple:
            places = [self._described(part, auto_schema, direction) for part in parts]
            return {"type": "array", "prefixItems": places, "minItems": len(places), "maxItems": len(places)}
        return TypeAdapter(kind).json_schema()
