"""Every use case is a verb of the replay, and DEVELOPERS.md lists exactly the verbs and pages that there are."""

import pytest

from dispatch.replay import schema
from dispatch.replay.verbs import verbs
from jobs import access, use_case
from tests.test_developers_md import DEVELOPERS, _import_everything


def test_every_use_case_of_the_program_is_a_verb() -> None:
    _import_everything()
    ours = {name for name in use_case.every if name in access.VERBS}
    assert ours - set(verbs()) == set()


@pytest.mark.parametrize(
    ("heading", "rows"), [("Verbs", schema.verb_rows()), ("Pages", schema.page_rows())], ids=["verbs", "pages"]
)
def test_developers_md_shows_the_tables_as_they_are(heading: str, rows: list[str]) -> None:
    section = DEVELOPERS.read_text().partition(f"### {heading} of a replay\n")[2].partition("\n#")[0]
    shown = [line for line in section.splitlines() if line.startswith("| `")]
    missing = [row for row in rows if row not in shown]
    assert not missing, "missing (`manage.py replay --tables` prints them all):\n" + "\n".join(missing)
    assert [row for row in shown if row not in rows] == [], "these are no longer true"
