"""What is read from the environment, where a default of ours stands beside what was given."""

import pytest
from django.core.exceptions import ImproperlyConfigured

from config import env


def test_a_connection_to_postgresql_is_kept_between_requests_unless_the_address_says_otherwise(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("SOME_DATABASE", "postgres://a:b@h:1/d")
    read = env.database("SOME_DATABASE", {})
    assert (read["CONN_MAX_AGE"], read["CONN_HEALTH_CHECKS"]) == (env.KEEP_CONNECTION_S, True)
    monkeypatch.setenv("SOME_DATABASE", "postgres://a:b@h:1/d?conn_max_age=0")
    assert env.database("SOME_DATABASE", {})["CONN_MAX_AGE"] == 0
    monkeypatch.setenv("SOME_DATABASE", "mysql://a:b@h:1/d")
    with pytest.raises(ImproperlyConfigured, match="only postgres"):
        env.database("SOME_DATABASE", {})
