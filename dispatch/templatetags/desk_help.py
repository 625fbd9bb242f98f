"""Help in place: `{% help_here "help-call" "help-rooms" %}` unfolds where the reader is and takes no cursor."""

from typing import Any

from django import template

from dispatch.desk.help_pages import PARTS

register = template.Library()


@register.inclusion_tag("dispatch/desk/_help_here.html")
def help_here(*anchors: str) -> dict[str, Any]:
    """The named parts of the help, folded; the question mark or F1 unfolds them."""
    return {"parts": [part for part in PARTS if part.anchor in anchors]}
