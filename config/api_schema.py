"""What every operation of the API has in common, written into the OpenAPI description once."""

from http import HTTPStatus
from typing import Any

from config.errors import PROBLEM

_PROBLEM_SCHEMA = {
    "type": "object",
    "description": "Problem details (RFC 9457): what is the case and what to do next. Its figures stand beside it.",
    "properties": {
        "type": {"type": "string", "description": "urn:ebbline: and the code"},
        "title": {"type": "string"},
        "status": {"type": "integer"},
        "detail": {"type": "string"},
        "code": {"type": "string", "description": "stable; programs decide by it"},
        "errors": {"description": "What is wrong with which field of the body."},
    },
    "required": ["type", "title", "status", "detail", "code"],
}
_ALWAYS = {
    400: "A part of the request is malformed or missing.",
    401: "Nobody is signed in, or the sign-in is not known.",
    403: "The role, the area or the token does not allow it.",
    404: "There is no such thing, or none of the asker's business.",
    405: "This address knows other methods; see Allow.",
    406: "The answer comes in no media type that was accepted.",
    422: "A value cannot be meant.",
    429: "Too many wrong passwords; see Retry-After.",
    503: "Others hold the same rows; try again.",
}
_WRITES = {
    409: "What was found stands against it; nothing was changed.",
    412: "Changed since the read that If-Match names.",
    413: "The request is larger than any that can be meant.",
    415: "The body comes in a media type that is not read here.",
}
_READS = {409: "What was found does not let it be answered."}
_HEADERS = {
    401: {"WWW-Authenticate": "The ways to sign in."},
    405: {"Allow": "The methods of this address."},
    429: {"Retry-After": "Seconds to wait."},
}
_LIST = {"Total-Count": "How many there are in all.", "Link": "The next and the previous part of the list (RFC 8288)."}
_METHODS = frozenset({"get", "post", "put", "patch", "delete"})


def document_common(result: dict[str, Any], **_: Any) -> dict[str, Any]:
    """A postprocessing hook of drf-spectacular: refusals, entity tags and their conditions, for every operation."""
    result.setdefault("components", {}).setdefault("schemas", {})["Problem"] = _PROBLEM_SCHEMA
    for item in result["paths"].values():
        for method in _METHODS & set(item):
            _refusals(item[method]["responses"], {**_ALWAYS, **(_READS if method == "get" else _WRITES)})
            if method == "get":
                _conditional(item[method])
    return result


def _refusals(responses: dict[str, Any], refusals: dict[int, str]) -> None:
    for status, description in refusals.items():
        content = {PROBLEM: {"schema": {"$ref": "#/components/schemas/Problem"}}}
        found = responses.setdefault(str(status), {"description": description, "content": content})
        if headers := _HEADERS.get(status):
            found["headers"] = {name: _header(text) for name, text in headers.items()}


def _conditional(read: dict[str, Any]) -> None:
    """Every JSON read carries a strong entity tag and is not sent again to whoever has it."""
    answer = read["responses"].get("200", {})
    if not any(kind.endswith("json") for kind in answer.get("content", {})):
        return
    tag = {"ETag": _header("The state that was read, for If-None-Match here and If-Match on a write.")}
    answer["headers"] = {**answer.get("headers", {}), **tag}
    if any(content.get("schema", {}).get("type") == "array" for content in answer["content"].values()):
        answer["headers"] |= {name: _header(text) for name, text in _LIST.items()}
    read["responses"]["304"] = {"description": HTTPStatus.NOT_MODIFIED.phrase, "headers": tag}
    read.setdefault("parameters", []).append(
        {
            "in": "header",
            "name": "If-None-Match",
            "schema": {"type": "string"},
            "description": "Entity tags that the reader has; one that still holds is answered with 304.",
        }
    )


def _header(description: str) -> dict[str, Any]:
    return {"description": description, "schema": {"type": "string"}}
