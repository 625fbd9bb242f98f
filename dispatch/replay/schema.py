"""What a scenario may hold: as a JSON Schema, and as the tables that DEVELOPERS.md shows."""

from typing import Any

from pydantic import BaseModel

from dispatch.replay.looks import LOOKS
from dispatch.replay.scenario import Scenario
from dispatch.replay.verbs import SHORT, verbs

REFERENCE = {"type": "string", "pattern": r"^[$@]", "description": "a result ($call.job_id) or a row (@vehicle:V09)"}


def of_scenario() -> dict[str, Any]:
    """A schema that accepts what `scenario.read` accepts, but for what only the program knows (users, references)."""
    whole = Scenario.model_json_schema(by_alias=True)
    step = whole["$defs"]["Step"]
    step["properties"]["do"] = {"enum": [*verbs(), "offer", "look"]}
    step["allOf"] = [
        *(_if(name, _arguments(verb.arguments, whole)) for name, verb in verbs().items()),
        _if("offer", _arguments(LOOKS["offers"].arguments, whole)),
        _if("look", {"oneOf": [_page(name, _arguments(look.arguments, whole)) for name, look in LOOKS.items()]}),
    ]
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **whole}


def verb_rows() -> list[str]:
    """One row of a table for each use case, with its short name and its arguments; ? may be left out."""
    short = {full: name for name, full in SHORT.items()}
    rows = [
        f"| `{name}`{f', `{short[name]}`' if name in short else ''} | {_in_words(verb.arguments)} |"
        for name, verb in sorted(verbs().items())
        if name not in SHORT
    ]
    return [*rows, f"| `offer` | {_in_words(LOOKS['offers'].arguments)} |", "| `look` | `page`, and the page's |"]


def page_rows() -> list[str]:
    """One row of a table for each page: its name, the rooms whose people may look at it, its arguments."""
    return [
        f"| `{name}` | {', '.join(sorted(look.rooms))} | {_in_words(look.arguments)} |"
        for name, look in sorted(LOOKS.items())
    ]


def _in_words(model: type[BaseModel]) -> str:
    fields = model.model_fields.items()
    return ", ".join(f"`{name}`" + ("" if field.is_required() else "?") for name, field in fields)


def _if(verb: str, arguments: dict[str, Any]) -> dict[str, Any]:
    needed = ["with"] if arguments.get("required") or "oneOf" in arguments else []
    return {
        "if": {"properties": {"do": {"const": verb}}},
        "then": {"properties": {"with": arguments}, "required": needed},
    }


def _page(name: str, arguments: dict[str, Any]) -> dict[str, Any]:
    properties = {"page": {"const": name}, **arguments.get("properties", {})}
    return {**arguments, "properties": properties, "required": ["page", *arguments.get("required", [])]}


def _arguments(model: type[BaseModel], whole: dict[str, Any]) -> dict[str, Any]:
    found = model.model_json_schema(ref_template="#/$defs/{model}")
    for name, inner in found.pop("$defs", {}).items():
        whole["$defs"][name] = {**inner, "properties": _or_reference(inner.get("properties", {}))}
    return {**found, "properties": _or_reference(found.get("properties", {}))}


def _or_reference(properties: dict[str, Any]) -> dict[str, Any]:
    return {name: {"anyOf": [inner, REFERENCE]} for name, inner in properties.items()}
