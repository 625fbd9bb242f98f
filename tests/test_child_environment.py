"""A child process works on the database of the test that started it, whichever that is."""

import subprocess
import sys

from django.contrib.auth.models import User
from django.db import connection

from tests.architecture.order import ROOT


def test_child_reads_and_writes_the_same_database(child_environment: dict[str, str]) -> None:
    User.objects.create_user("parent")
    code = (
        "import django; django.setup()\n"
        "from django.contrib.auth.models import User; from django.db import connection\n"
        "User.objects.create_user('child')\n"
        "print(connection.vendor, *User.objects.order_by('id').values_list('username', flat=True))"
    )

    child = subprocess.run(
        [sys.executable, "-c", code],
        cwd=ROOT,
        env={**child_environment, "DJANGO_SETTINGS_MODULE": "config.settings"},
        capture_output=True,
        text=True,
        check=True,
    )

    assert child.stdout.split() == [connection.vendor, "parent", "child"]
    assert User.objects.filter(username="child").exists()
