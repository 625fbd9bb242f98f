"""What was typed for one model of a bill."""

from collections.abc import Mapping

from django import template

register = template.Library()


@register.filter
def of(typed: Mapping[str, str], code: str) -> str:
    """The text that was typed for this model."""
    return typed.get(code, "")
