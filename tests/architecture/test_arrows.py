"""config > dispatch > equipment > jobs: the upper names the lower, never the reverse, by whatever means."""

import ast
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.apps import apps
from django.contrib.staticfiles import finders
from django.template import TemplateDoesNotExist
from django.template.backends.django import get_installed_libraries
from django.template.base import Lexer, Token, TokenType
from importlinter.cli import lint_imports

from tests.architecture import order

LOWER = order.PACKAGES[:-1]
# The frame is the one thing of config that everyone may name.
FRAME = "base.html"


def test_import_contracts_hold(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.chdir(order.ROOT)

    status = lint_imports(config_filename="pyproject.toml", no_cache=True)

    assert status == 0, capsys.readouterr().out


def test_contract_states_the_order() -> None:
    contracts = tomllib.loads((order.ROOT / "pyproject.toml").read_text())["tool"]["importlinter"]["contracts"]

    assert [contract["layers"] for contract in contracts if contract["type"] == "layers"] == [
        list(reversed(order.PACKAGES))
    ]


def test_no_foreign_key_points_up() -> None:
    pointing = [
        (model._meta.app_label, field.name, field.related_model._meta)
        for model in apps.get_models(include_auto_created=True)
        for field in model._meta.get_fields()
        if field.is_relation and field.concrete and field.related_model
    ]
    up = [
        f"{label}: {field} points to {target.label}"
        for label, field, target in pointing
        if order.rank(target.app_label) > order.rank(label)
    ]

    assert any(label in order.RANK for label, _, _ in pointing)
    assert up == []


@pytest.mark.parametrize("package", LOWER)
def test_templates_name_nothing_above(package: str) -> None:
    names = _Names()
    up = [
        f"{path.relative_to(order.ROOT)}:{line}: {what}"
        for path in order.files(package, "*.html")
        for line, what in names.upward(path, package)
    ]

    assert up == []


@pytest.mark.parametrize("package", LOWER)
def test_no_text_in_code_names_a_module_above(package: str) -> None:
    upward = re.compile(rf"({'|'.join(order.above(package))})(\.\w+)+")
    up = [
        f"{path.relative_to(order.ROOT)}:{node.lineno}: {node.value!r}"
        for path in order.files(package, "*.py")
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and upward.fullmatch(node.value)
    ]

    assert up == []


@pytest.mark.parametrize("package", LOWER)
def test_no_code_asks_for_an_address_above(package: str) -> None:
    addresses = order.owners_of_addresses()
    up = [
        f"{path.relative_to(order.ROOT)}:{name.lineno}: {name.value!r}"
        for path in order.files(package, "*.py")
        for call in ast.walk(ast.parse(path.read_text()))
        for name in _address_asked_for(call)
        if order.rank(addresses.get(str(name.value))) > order.RANK[package]
    ]

    assert up == []


def _address_asked_for(node: ast.AST) -> list[ast.Constant]:
    if not isinstance(node, ast.Call) or not node.args or not isinstance(node.args[0], ast.Constant):
        return []
    function = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
    return [node.args[0]] if function in {"reverse", "reverse_lazy", "redirect", "resolve_url"} else []


class _Names:
    """Who owns what a template tag names."""

    def __init__(self) -> None:
        self.addresses = order.owners_of_addresses()
        self.libraries = get_installed_libraries()

    def upward(self, path: Path, package: str) -> Iterator[tuple[int, str]]:
        """Tags that name something above `package`, or nothing at all, with their lines."""
        for token in Lexer(path.read_text()).tokenize():
            if token.token_type != TokenType.BLOCK:
                continue
            try:
                named = list(self._named(token))
            except (LookupError, TemplateDoesNotExist):
                yield token.lineno or 0, f"{{% {token.contents} %}} names nothing that there is"
                continue
            for name, owner in named:
                if order.rank(owner) > order.RANK[package]:
                    yield token.lineno or 0, f"{{% {token.contents} %}} names {name} of {owner}"

    def _named(self, token: Token) -> Iterator[tuple[str, str | None]]:
        tag, *arguments = token.split_contents()
        if tag == "load":
            wanted = arguments[arguments.index("from") + 1 :] if "from" in arguments else arguments
            yield from ((name, self.libraries[name].partition(".")[0]) for name in wanted)
        if tag not in {"url", "include", "extends", "static"} or not arguments:
            return
        name = arguments[0][1:-1]
        if arguments[0][0] not in "'\"":
            raise AssertionError(f"{{% {token.contents} %}}: name it literally, so that the order can be proved")
        if tag == "url":
            yield name, self.addresses[name]
        elif tag == "static":
            found = finders.find(name)
            if not found:
                raise LookupError(name)
            yield name, order.owner_of_file(found)
        elif not (tag == "extends" and name == FRAME):
            yield name, order.owner_of_template(name)


@pytest.mark.parametrize(
    "source",
    [
        '{% extends "sign_in.html" %}',
        '{% include "sign_in.html" %}',
        "{% url 'home' %}",
        "{% load static %}{% static 'ebbline.css' %}",
    ],
)
def test_scan_sees_each_way_of_naming(source: str, tmp_path: Path) -> None:
    page = tmp_path / "page.html"
    page.write_text(source)

    assert [line for line, _ in _Names().upward(page, "jobs")] == [1]


def test_scan_lets_the_frame_pass(tmp_path: Path) -> None:
    page = tmp_path / "page.html"
    page.write_text('{% extends "base.html" %}{% load static %}{% url "admin:index" %}')

    assert list(_Names().upward(page, "jobs")) == []
