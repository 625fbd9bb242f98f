"""The order of the four packages, and who owns a file, a template, an address name."""

from collections.abc import Iterator
from pathlib import Path

from django.template.loader import get_template
from django.urls import URLPattern, URLResolver, get_resolver

ROOT = Path(__file__).resolve().parents[2]
# From the ground up. What is not listed (Django, libraries) lies below all of them.
PACKAGES = ("jobs", "equipment", "dispatch", "config")
RANK = {name: rank for rank, name in enumerate(PACKAGES)}


def rank(package: str | None) -> int:
    """Height of a package; everything that is not ours lies below."""
    return RANK.get(package or "", -1)


def above(package: str) -> tuple[str, ...]:
    """The packages that this one may not name."""
    return PACKAGES[RANK[package] + 1 :]


def files(package: str, pattern: str) -> list[Path]:
    """The package's own files, written by hand."""
    found = (ROOT / package).rglob(pattern)
    return sorted(path for path in found if path.is_file() and "__pycache__" not in path.parts)


def owner_of_file(path: str | Path | None) -> str | None:
    """Our package that a file belongs to; None for a library's."""
    if path is None or not Path(path).resolve().is_relative_to(ROOT):
        return None
    first = Path(path).resolve().relative_to(ROOT).parts[0]
    return first if first in RANK else None


def owner_of_template(name: str) -> str | None:
    """Our package that a template belongs to; raises when there is no such template."""
    return owner_of_file(get_template(name).origin.name)  # type: ignore[attr-defined]


def owners_of_addresses() -> dict[str, str | None]:
    """Every address name ("room:page") and the package that declares it or answers there."""
    return dict(_addresses(get_resolver().url_patterns, "", "config"))


def _addresses(
    patterns: list[URLPattern | URLResolver], namespace: str, declared_in: str | None
) -> Iterator[tuple[str, str | None]]:
    for pattern in patterns:
        if isinstance(pattern, URLResolver):
            inner = f"{namespace}{pattern.namespace}:" if pattern.namespace else namespace
            # A library that hangs in as a bare list (the admin) is not ours, whoever hung it there.
            module = getattr(pattern.urlconf_name, "__name__", "")
            owner = _ours(module)
            yield from _addresses(pattern.url_patterns, inner, owner)
        elif pattern.name:
            answers = pattern.callback
            answers = getattr(answers, "view_class", getattr(answers, "cls", answers))
            yield f"{namespace}{pattern.name}", _ours(answers.__module__) or declared_in


def _ours(module: str) -> str | None:
    first = module.partition(".")[0]
    return first if first in RANK else None
