"""The program as a company runs it, under faults: real servers and processes, killed, stopped and started again."""

import pytest

pytest.register_assert_rewrite("tests.faults.installation", "tests.faults.work")
