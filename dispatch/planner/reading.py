"""
Reading JSON that nobody has vouched for: one refusal, with the place it speaks of, or a frozen model.

The standard parser lets through what the port forbids (a key twice, NaN, numbers beyond any machine word),
so the text is parsed here with those closed, and then given to pydantic in strict mode.
"""

from __future__ import annotations

import json
from typing import Any, NoReturn, TypeVar

from pydantic import BaseModel, ConfigDict, ValidationError, ValidationInfo, model_validator
from pydantic_core import PydanticCustomError

# Longer literals cannot be a time, a length or a price; Python would spend quadratic time on reading them.
LONGEST_NUMBER = 40
# Stands in ``where`` when no smaller place can be named.
WHOLE = "document"


class Refused(ValueError):
    """
    The input cannot be worked with.

    :ivar code: stable word for the kind of refusal.
    :ivar where: path in the input, e.g. ``visits[3].window``; ``document`` for the whole.
    :ivar message: what is wrong and what would be right.
    """

    def __init__(self, code: str, where: str, message: str) -> None:
        super().__init__(f"{where}: {message}")
        self.code = code
        self.where = where
        self.message = message

    def as_json(self) -> dict[str, str]:
        return {"code": self.code, "where": self.where, "message": self.message}


class Part(BaseModel):
    """
    A piece of the port: strict types, no unknown key, frozen.

    Built in Python by field name, with defaults; read from JSON by the port's own key, with every key present.
    """

    model_config = ConfigDict(
        strict=True,
        extra="forbid",
        frozen=True,
        allow_inf_nan=False,
        validate_by_name=True,
        validate_by_alias=True,
        serialize_by_alias=True,
    )

    @model_validator(mode="before")
    @classmethod
    def _every_key_present(cls, value: Any, info: ValidationInfo) -> Any:
        if info.context == "port" and isinstance(value, dict):
            for name, field in cls.model_fields.items():
                key = str(field.validation_alias or name)
                if key not in value:
                    raise PydanticCustomError("missing_key", "{key}", {"key": key})
        return value


def impossible(where: str, message: str) -> NoReturn:
    """Refuse a value from inside a validator; ``where`` is relative to the model being validated."""
    raise PydanticCustomError("impossible", "{message}", {"where": where, "message": message})


M = TypeVar("M", bound=Part)


def read(model: type[M], raw: bytes | str) -> M:
    """
    Read one JSON text as ``model``.

    :raises Refused: with code ``encoding``, ``json``, ``repeated_key``, ``unknown_key``, ``missing_key``,
        ``wrong_type`` or ``impossible_value``.
    """
    return validated(model, parse(raw))


def parse(raw: bytes | str) -> object:
    """
    The JSON value of a UTF-8 text in which no object gives a key twice.

    :raises Refused: if it is not such a text.
    """
    try:
        text = raw.decode("utf-8-sig") if isinstance(raw, bytes) else raw
    except UnicodeDecodeError as error:
        where = f"byte {error.start}"
        raise Refused("encoding", where, "this is not UTF-8; save the file as UTF-8 and give it again") from None
    try:
        # NaN and infinity come through as floats: the field they stand in refuses them by name.
        value: object = json.loads(text, object_pairs_hook=_kept, parse_int=_int)
    except json.JSONDecodeError as error:
        place = f"line {error.lineno}, column {error.colno}"
        raise Refused("json", place, f"this is not JSON ({error.msg}); one JSON object in UTF-8 is expected") from None
    except RecursionError:
        raise _too_deep() from None
    _refuse_keys_twice(value)
    return value


def validated(model: type[M], value: object) -> M:
    """
    A parsed JSON value as ``model``, by the port's own keys.

    :raises Refused: naming the first thing wrong.
    """
    try:
        return model.model_validate(value, by_alias=True, by_name=False, context="port")
    except ValidationError as error:
        raise refusal_of(error) from None
    except RecursionError:
        raise _too_deep() from None


def _too_deep() -> Refused:
    return Refused("json", WHOLE, "brackets are nested too deeply; at most six levels are ever needed")


def refusal_of(error: ValidationError) -> Refused:
    """The first finding of pydantic, in the port's words."""
    first = error.errors(include_url=False)[0]
    kind = first["type"]
    path = path_of(first["loc"])
    where = path or WHOLE
    context = first.get("ctx", {})
    if kind == "impossible":
        return Refused("impossible_value", _joined(path, str(context["where"])), str(context["message"]))
    if kind == "missing_key":
        key = str(context["key"])
        return Refused("missing_key", _joined(path, key), f'the key "{key}" is missing; every key must be given')
    if kind == "missing":
        return Refused("missing_key", where, "a value is missing here; every value must be given")
    if kind == "extra_forbidden":
        return Refused("unknown_key", where, "this key is not known here; take it out or mend its spelling")
    wrong_type = kind.endswith(("_type", "_parsing")) or kind in {"int_from_float", "tuple_type", "literal_error"}
    code = "wrong_type" if wrong_type and kind != "literal_error" else "impossible_value"
    return Refused(code, where, f"{first['msg']}; found {_shown(first.get('input'))}")


def path_of(loc: tuple[int | str, ...]) -> str:
    """``("visits", 3, "window", 0)`` as ``visits[3].window[0]``."""
    where = ""
    for step in loc:
        if step == "[key]":
            continue
        where = f"{where}[{step}]" if isinstance(step, int) else _joined(where, step)
    return where


def _joined(where: str, step: str) -> str:
    if not where or not step or step.startswith("["):
        return where + step
    return f"{where}.{step}"


def _shown(value: object) -> str:
    if isinstance(value, int) and not isinstance(value, bool) and abs(value) >= 10**LONGEST_NUMBER:
        return "a number with too many digits"
    shown = json.dumps(value, default=str) if isinstance(value, (str, int, float, bool, type(None))) else None
    if isinstance(value, float) and value != value:
        return "NaN, which is no number"
    if shown is None:
        return "a list" if isinstance(value, (list, tuple)) else "an object"
    return shown if len(shown) <= 60 else shown[:57] + "..."


class _Twice(dict[str, object]):
    """An object in which ``key`` stood twice; kept until the path to it can be told."""

    key = ""


def _kept(pairs: list[tuple[str, object]]) -> dict[str, object]:
    found: dict[str, object] = dict(pairs)
    if len(found) == len(pairs):
        return found
    twice = _Twice(found)
    keys = [key for key, _ in pairs]
    twice.key = next(key for key in keys if keys.count(key) > 1)
    return twice


def _refuse_keys_twice(value: object) -> None:
    waiting: list[tuple[tuple[int | str, ...], object]] = [((), value)]
    while waiting:
        loc, node = waiting.pop()
        if isinstance(node, _Twice):
            where = path_of((*loc, node.key))
            raise Refused("repeated_key", where, f"the key {_shown(node.key)} stands twice in one object; keep one")
        if isinstance(node, dict):
            waiting += [((*loc, key), child) for key, child in node.items()]
        elif isinstance(node, list) and node and isinstance(node[0], (list, dict)):
            waiting += [((*loc, i), child) for i, child in enumerate(node)]


def _int(digits: str) -> int:
    # Kept beyond every bound, so that the field it stands in refuses it by name.
    return int(digits) if len(digits) <= LONGEST_NUMBER else 10**LONGEST_NUMBER
