"""House rules that can be counted: sizes, names, markup that a strict content security policy would refuse."""

import ast
import re

import pytest

from tests.architecture import order

SOURCES = (*order.PACKAGES, "tests")
LONGEST_FILE_LINES = 350
SHAPELESS_NAMES = {"utils.py", "services.py", "helpers.py", "common.py"}
SIGNALS = {"pre_save", "post_save", "pre_delete", "post_delete", "m2m_changed", "receiver"}
# Written apart, so that the rule does not find itself.
UNFINISHED = re.compile(r"\b(" + "|".join(("TO" + "DO", "FIX" + "ME", "X" + "XX")) + r")\b")
INLINE = re.compile(r"<script(?![^>]*\bsrc=)(?![^>]*json)|<style\b|\s(on[a-z]+|style)\s*=|javascript:", re.IGNORECASE)


@pytest.mark.parametrize("package", SOURCES)
def test_every_file_fits_one_sitting(package: str) -> None:
    too_long = {
        str(path.relative_to(order.ROOT)): lines
        for pattern in ("*.py", "*.js", "*.html")
        for path in order.files(package, pattern)
        if "migrations" not in path.parts and (lines := len(path.read_text().splitlines())) > LONGEST_FILE_LINES
    }

    assert too_long == {}


@pytest.mark.parametrize("package", SOURCES)
def test_modules_are_named_for_what_they_do(package: str) -> None:
    assert [path for path in order.files(package, "*.py") if path.name in SHAPELESS_NAMES] == []


@pytest.mark.parametrize("package", SOURCES)
def test_nothing_is_left_unfinished(package: str) -> None:
    found = [
        f"{path.relative_to(order.ROOT)}:{number}: {line.strip()}"
        for pattern in ("*.py", "*.js", "*.html", "*.css", "*.md")
        for path in order.files(package, pattern)
        for number, line in enumerate(path.read_text().splitlines(), start=1)
        if UNFINISHED.search(line)
    ]

    assert found == []


@pytest.mark.parametrize("package", order.PACKAGES)
def test_no_signals(package: str) -> None:
    """What happens after a write is a call in the use case, where a reader sees it."""
    found = [
        f"{path.relative_to(order.ROOT)}:{node.lineno}"
        for path in order.files(package, "*.py")
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.ImportFrom)
        and (node.module or "").startswith("django")
        and SIGNALS & {alias.name for alias in node.names}
    ]

    assert found == []


@pytest.mark.parametrize("package", order.PACKAGES)
def test_templates_have_no_inline_script_or_style(package: str) -> None:
    found = [
        f"{path.relative_to(order.ROOT)}:{number}: {line.strip()}"
        for path in order.files(package, "*.html")
        for number, line in enumerate(path.read_text().splitlines(), start=1)
        if INLINE.search(line)
    ]

    assert found == []
