"""Every test that uses the database runs again on a real PostgreSQL server."""

import os
import subprocess
import sys
import xml.etree.ElementTree as ElementTree
from collections.abc import Callable
from pathlib import Path

import pytest
from django.db import connection

from tests.servers import Server

ROOT = Path(__file__).resolve().parent.parent


@pytest.mark.first
def test_database_suite_passes_on_postgresql(
    postgres: Server, tmp_path: Path, record_property: Callable[[str, object], None]
) -> None:
    if connection.vendor == "postgresql":
        pytest.skip("this run is on PostgreSQL already")
    report = tmp_path / "report.xml"
    command = [sys.executable, "-m", "pytest", "tests", "--only-database", "-n0", "-q", "--tb=short"]
    command += [f"--junitxml={report}", f"--basetemp={tmp_path / 'child'}"]
    address = postgres.address.rpartition("/")[0] + "/ebbline"
    inherited = {name: value for name, value in os.environ.items() if not name.startswith("PYTEST_")}

    child = subprocess.run(
        command,
        cwd=ROOT,
        env={**inherited, "DATABASE_URL": address},
        capture_output=True,
        text=True,
        timeout=2400,
    )

    assert child.returncode == 0, child.stdout[-20_000:] + child.stderr[-5_000:]
    suite = ElementTree.parse(report).getroot().find("testsuite")
    assert suite is not None
    assert [p.get("value") for p in suite.iter("property") if p.get("name") == "database"] == ["postgresql"]
    skipped = int(suite.get("skipped", "0"))
    passed = int(suite.get("tests", "0")) - skipped
    assert passed > 0
    record_property("note", f"On PostgreSQL ({postgres.program}): {passed} passed, {skipped} skipped")
