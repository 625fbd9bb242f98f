"""The API answers what its OpenAPI description says, to every role and to nobody, whatever is sent."""

import pytest

from jobs import access
from tests.config.api_contract import Findings, hold, one_connection, operations
from tests.config.api_world import ROLES, World, world

NOBODY = ""
EXAMPLES = 6


@pytest.fixture
def whole(db: None) -> World:
    return world()


@pytest.mark.long
@pytest.mark.parametrize("role", [*ROLES, NOBODY])
def test_every_operation_keeps_to_its_description(role: str, whole: World) -> None:
    findings = Findings()
    with one_connection():
        for operation in operations():
            hold(operation, role, whole, examples=EXAMPLES, findings=findings)

    print(role, findings.statuses)
    assert not findings.broken, str(findings)
    assert findings.statuses.total() > len(operations())


def test_a_part_of_them_keeps_to_it(whole: World) -> None:
    """What is quick enough for every run: one request to every fourth operation."""
    findings = Findings()
    with one_connection():
        for operation in operations()[::4]:
            hold(operation, access.MANAGER, whole, examples=1, findings=findings)

    assert not findings.broken, str(findings)
