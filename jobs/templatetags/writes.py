"""For forms that write: a key made with the form, so that a form sent twice does its work once."""

from uuid import uuid4

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString

register = template.Library()


@register.simple_tag
def client_key() -> SafeString:
    """A hidden field `key` with a new UUID."""
    return format_html('<input type="hidden" name="key" value="{}">', uuid4())
