"""DEVELOPERS.md lists every refusal and caution code that the program can answer with, and no other."""

import pkgutil
import re
from collections.abc import Iterable
from importlib import import_module, util

import pytest

from jobs.refusals import Refusal
from tests.architecture import order

DEVELOPERS = order.ROOT / "DEVELOPERS.md"

pytestmark = pytest.mark.skipif(not DEVELOPERS.exists(), reason="DEVELOPERS.md is not written yet")


def _listed_under(heading: str) -> list[str]:
    """The codes in the first column of the tables between this heading and the next of its level or above."""
    text = DEVELOPERS.read_text()
    found = re.search(rf"^(#+) {re.escape(heading)}$", text, re.MULTILINE)
    assert found, f"DEVELOPERS.md has no heading {heading!r}"
    level = len(found[1])
    section = re.split(rf"^#{{1,{level}}} ", text[found.end() :], maxsplit=1, flags=re.MULTILINE)[0]
    return re.findall(r"^\| *`([^`]+)`", section, re.MULTILINE)


def _matches(heading: str, rows: Iterable[tuple[str, str]]) -> None:
    """Compare, and print the rows that are missing, ready to be put in."""
    meanings = dict(rows)
    listed = _listed_under(heading)
    missing = [f"| `{code}` | {meanings[code]} |" for code in sorted(meanings.keys() - set(listed))]
    assert not missing, f"put under {heading!r}:\n" + "\n".join(missing)
    assert set(listed) - meanings.keys() == set(), "no code like that is left in the program"
    assert len(listed) == len(set(listed)), "listed twice"


def _import_everything() -> None:
    for package in order.PACKAGES:
        folder = str(order.ROOT / package)
        for module in pkgutil.walk_packages([folder], f"{package}."):
            if "migrations" not in module.name and not module.name.endswith("__main__"):
                import_module(module.name)


def test_refusal_codes() -> None:
    _import_everything()
    ours = [refusal for refusal in Refusal.every.values() if refusal.__module__.partition(".")[0] in order.PACKAGES]

    assert ours
    _matches("Refusal codes", ((each.code, " ".join((each.__doc__ or "").split("\n\n")[0].split())) for each in ours))


@pytest.mark.skipif(util.find_spec("equipment.sizing.codes") is None, reason="the sizing has no list of codes yet")
def test_sizing_codes() -> None:
    codes = import_module("equipment.sizing.codes").all_codes()

    _matches("Sizing codes", ((each.code, f"{each.kind}: {each.meaning}") for each in codes))
