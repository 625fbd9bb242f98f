"""Requests that nobody should send: to every write of the API and every form of the pages, more or less well formed."""

import json
import traceback
from collections import Counter
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any
from urllib.parse import quote
from uuid import uuid4

from django.core.signals import got_request_exception
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver
from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st

from jobs import access
from tests.config.api_world import ROLES, World

NASTY_TEXTS = (
    "",
    " ",
    "\0",
    "a\0b",
    "\ud800",
    "\udfff\ud800",
    "\u202e\u200b\ufeff",
    "x" * 5_000,
    "9" * 400,
    "9" * 5_000,
    "-1",
    "0",
    "1e400",
    "NaN",
    "Infinity",
    "-Infinity",
    "2147483648",
    "9223372036854775807",
    "9223372036854775808",
    "2026-02-30",
    "2026-03-08T02:30:00",  # no such time on the Pacific coast
    "2026-11-01T01:30:00",  # twice
    "0001-01-01",
    "0001-01-01T00:00:00+14:00",
    "9999-12-31",
    "9999-12-31T23:59:59-12:00",
    "24:61",
    "P999999999D",
    "../../etc/passwd",
    "'; DROP TABLE jobs_job; --",
    "<script>alert(1)</script>",
    "{{ 7*7 }}",
    "1000 2000 9999",
    "٣",
    "²",
    "room:a:line",
)
NASTY_VALUES = (
    None,
    True,
    0,
    -1,
    1,
    2**31 - 1,
    2**31,
    2**63 - 1,
    2**63,
    -(2**63) - 1,
    10**40,
    0.1,
    -0.0,
    1e308,
    [],
    {},
    [[]],
    [None],
    [1, "a", None],
    {"": ""},
    {"key": 1},
)
NASTY_BODIES = (
    b"",
    b"{",
    b"null",
    b"[]",
    b'"text"',
    b"\xff\xfe\x00",
    b'{"a": "\xe9"}',
    b'{"a": 1, "a": 2}',
    b'{"a": NaN}',
    b'{"a": Infinity, "b": -Infinity}',
    b'{"a": 1e999}',
    b'{"a": "\\u0000"}',
    b'{"a": "\\ud800"}',
    b'{"\\ud800": 1}',
    b"[" * 100_000,
    b'{"a":' * 5_000 + b"1" + b"}" * 5_000,
    b'{"a": ' + b"9" * 10_000 + b"}",
    b"\xef\xbb\xbf{}",
)
TYPES = ("application/json", "text/plain", "application/x-www-form-urlencoded", "multipart/form-data", "x", "")
texts = st.one_of(st.sampled_from(NASTY_TEXTS), st.text(max_size=20))
values = st.one_of(
    st.sampled_from(NASTY_VALUES), texts, st.lists(texts, max_size=2), st.integers(), st.floats(allow_nan=False)
)


@dataclass(frozen=True)
class Target:
    """Somewhere to write: its method, its address with names in braces, what is usually sent, and by whom."""

    method: str
    address: str
    sent: Mapping[str, tuple[Any, ...]]
    api: bool
    roles: tuple[str, ...] = (access.MANAGER,)


@dataclass
class Broken:
    """Every request that was answered 500, by target; how all were answered."""

    found: dict[str, str] = field(default_factory=dict)
    statuses: Counter[int] = field(default_factory=Counter)

    def __str__(self) -> str:
        return f"{len(self.found)} targets broke\n\n" + "\n\n".join(self.found.values())


def api_targets(description: Mapping[str, Any]) -> Iterator[Target]:
    """Every write of the OpenAPI description, with values that its body's schema would take."""
    for address, item in description["paths"].items():
        for method in {"post", "put", "patch", "delete"} & set(item):
            content = item[method].get("requestBody", {}).get("content", {}).get("application/json", {})
            shape = _resolved(content.get("schema", {}), description)
            sent = {name: _usual(part, description) for name, part in shape.get("properties", {}).items()}
            yield Target(method.upper(), address, sent, api=True)


def _resolved(shape: Mapping[str, Any], description: Mapping[str, Any]) -> Mapping[str, Any]:
    while "$ref" in shape:
        shape = description["components"]["schemas"][shape["$ref"].rpartition("/")[2]]
    return shape


def _usual(shape: Mapping[str, Any], description: Mapping[str, Any]) -> tuple[Any, ...]:
    shape = _resolved(shape, description)
    if several := shape.get("oneOf") or shape.get("anyOf") or shape.get("allOf"):
        return tuple(value for part in several for value in _usual(part, description))
    if "enum" in shape:
        return tuple(shape["enum"])
    kind, kinds = shape.get("type"), shape.get("format", "")
    if isinstance(kind, list):
        kind = kind[0]
    if kind == "object":
        inner = {name: _usual(part, description)[:1] for name, part in shape.get("properties", {}).items()}
        return ({name: found[0] for name, found in inner.items() if found},)
    if kind == "array":
        return tuple([one] for one in _usual(shape.get("items", {}), description)[:3]) or ([],)
    plain: dict[Any, tuple[Any, ...]] = {
        "integer": (1, 2, 40, shape.get("maximum", 7)),
        "number": (1.5, 74, shape.get("maximum", 7)),
        "boolean": (True, False),
        "null": (None,),
        "string": ("kitchen", "because", "1000", "water", "air_mover"),
    }
    dated = {
        "date": ("2026-01-16", "2026-11-26"),
        "date-time": ("2026-01-16T06:50:00Z", "2026-11-26T06:50:00Z"),
        "uuid": (str(uuid4()),),
    }
    return dated.get(kinds) or plain.get(kind, ("kitchen", 1))


class _Forms(HTMLParser):
    """The forms of a page, and what htmx sends by itself."""

    def __init__(self) -> None:
        super().__init__()
        self.forms: list[tuple[str, dict[str, list[str]]]] = []
        self.inside: dict[str, list[str]] | None = None
        self.select = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = {name: value or "" for name, value in attrs}
        if tag == "form":
            self.inside = {}
            if found.get("method", "").lower() == "post" or "hx-post" in found:
                self.forms.append((found.get("hx-post") or found.get("action", ""), self.inside))
        elif "hx-post" in found:
            self.forms.append((found["hx-post"], {found.get("name", "value"): [found.get("value", "")]}))
        if self.inside is None:
            return
        if tag in {"input", "button", "textarea"} and found.get("name"):
            self.inside.setdefault(found["name"], []).append(found.get("value", "on"))
        elif tag == "select":
            self.select = found.get("name", "")
        elif tag == "option" and self.select:
            self.inside.setdefault(self.select, []).append(found.get("value", ""))

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self.inside = None
        if tag == "select":
            self.select = ""


def page_addresses(world: World) -> Iterator[str]:
    """Every address outside the API and the master data, with each id that is there in the place of a name."""
    for route in _routes(get_resolver(), ""):
        if not route.startswith(("api/", "admin/", "sign-out", "metrics", "health", "livez")):
            yield from _filled(f"/{route}", world)


def _routes(resolver: URLResolver, before: str) -> Iterator[str]:
    for part in resolver.url_patterns:
        if isinstance(part, URLPattern):
            yield before + str(part.pattern)
        else:
            yield from _routes(part, before + str(part.pattern))


def _filled(route: str, world: World) -> Iterator[str]:
    pieces = route.replace("(?P<kind>call|job)", "call").replace("(?P<subject_id>[0-9]{1,18})", "<int:call_id>")
    pieces = pieces.replace("/^", "/").rstrip("$")
    if "<" not in pieces:
        yield pieces
        return
    before, _, rest = pieces.partition("<")
    name, _, after = rest.partition(">")
    name = name.rpartition(":")[2]
    name = "job_number" if name == "number" and "desk/" in before else name
    for one in world.ids.get(name, ())[:2] or ("1",):
        yield from _filled(f"{before}{one}{after}", world)


def page_targets(world: World, clients: Mapping[str, Client]) -> list[Target]:
    """Every form that any role is shown, and every address that takes nothing but a form."""
    found: dict[tuple[str, tuple[str, ...]], Target] = {}
    for address in sorted(set(page_addresses(world))):
        for role, client in clients.items():
            answer = client.get(address)
            assert answer.status_code != 500, address
            if answer.status_code == 405:
                found.setdefault((address, ()), Target("POST", address, {}, api=False, roles=ROLES))
            if not answer.get("Content-Type", "").startswith("text/html") or answer.streaming:
                continue
            reader = _Forms()
            reader.feed(answer.content.decode())
            for action, fields in reader.forms:
                there = action or address
                if there.startswith("/") and there != "/sign-out":
                    named = {name: tuple(several) for name, several in fields.items() if name != "csrfmiddlewaretoken"}
                    found[(there, tuple(sorted(named)))] = Target("POST", there, named, api=False, roles=(role,))
    return list(found.values())


@contextmanager
def _noting(last: list[str]) -> Iterator[None]:
    def note(sender: Any, **kwargs: Any) -> None:
        last[:] = [traceback.format_exc()]

    got_request_exception.connect(note)
    try:
        yield
    finally:
        got_request_exception.disconnect(note)


def fire(target: Target, world: World, clients: Mapping[str, Client], *, requests: int, broken: Broken) -> None:
    """So many requests to one target, as each of the roles."""
    last: list[str] = []

    @seed(20260116)
    @settings(
        max_examples=requests,
        deadline=None,
        database=None,
        phases=(Phase.generate,),
        suppress_health_check=list(HealthCheck),
    )
    @given(data=st.data())
    def send(data: st.DataObject) -> None:
        role = data.draw(st.sampled_from(target.roles * 9 + ROLES))
        request = _request(target, data, world)
        last.clear()
        headers = world.headers(role) if target.api else {}
        answer = clients[role].generic(target.method, headers=headers, **request)
        broken.statuses[answer.status_code] += 1
        if answer.status_code >= 500:
            sent = str(request)[:400]
            told = f"{target.method} {target.address} {answer.status_code} {sent}\n{''.join(last)[-1500:]}"
            broken.found.setdefault(f"{target.method} {target.address}", told)

    with _noting(last):
        send()


def _request(target: Target, data: st.DataObject, world: World) -> dict[str, Any]:
    path = _path(target.address, data, world)
    if data.draw(st.integers(0, 19)) == 0:
        body = data.draw(st.sampled_from(NASTY_BODIES) | st.binary(max_size=30))
        return {"path": path, "data": body, "content_type": data.draw(st.sampled_from(TYPES)), **_key(data)}
    sent = {
        name: data.draw(st.sampled_from(world.ids.get(name) or usual or ("",)))
        for name, usual in target.sent.items()
        if data.draw(st.integers(0, 14)) > 0
    }
    for _ in range(data.draw(st.integers(0, 2))):
        name = data.draw(st.sampled_from(sorted(target.sent)) if target.sent else st.just("value"))
        sent[name] = data.draw(values if target.api else texts)
    if target.api:
        body = json.dumps(sent).encode()
        return {"path": path, "data": body, "content_type": "application/json", **_key(data)}
    if "key" in sent or not target.sent:
        sent.setdefault("key", "")
        if data.draw(st.integers(0, 19)) > 0:
            sent["key"] = str(data.draw(st.uuids()))
    form = "&".join(f"{_quoted(name)}={_quoted(str(value))}" for name, value in sent.items())
    return {"path": path, "data": form.encode(), "content_type": "application/x-www-form-urlencoded"}


def _key(data: st.DataObject) -> dict[str, str]:
    """Most of the time a good key, so that the body is looked at."""
    good = data.draw(st.integers(0, 19)) > 0
    return {"HTTP_IDEMPOTENCY_KEY": str(data.draw(st.uuids())) if good else data.draw(st.sampled_from(("", "7", "é")))}


def _path(address: str, data: st.DataObject, world: World) -> str:
    while "{" in address:
        before, _, rest = address.partition("{")
        name, _, after = rest.partition("}")
        ids = world.ids.get(name, ())
        if ids and data.draw(st.integers(0, 14)) > 0:
            one = str(data.draw(st.sampled_from(ids)))
        else:
            one = _quoted(data.draw(st.sampled_from(("1", "0", "9" * 30, "9223372036854775808", "a", "%00", "é"))))
        address = f"{before}{one}{after}"
    return address


def _quoted(text: str) -> str:
    return quote(text.encode("utf-8", "surrogatepass"))
