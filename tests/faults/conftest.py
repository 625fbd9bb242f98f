"""An installation for each test, on a copy of one filled database."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any
from uuid import uuid4

import psycopg
import pytest

from tests import servers
from tests.conftest import missing
from tests.dispatch.gateway import Gateway, gateway
from tests.faults.installation import Installation
from tests.faults.work import Work

FILLED = "filled"


@pytest.fixture(scope="session")
def database_server() -> Iterator[servers.Server]:
    """PostgreSQL that writes through, as in service; the tests stop and start it."""
    try:
        with servers.postgres(durable=True) as server:
            yield server
    except servers.Unavailable as error:
        missing("postgres", str(error))


@pytest.fixture
def broker() -> Iterator[servers.Server]:
    try:
        with servers.redis_server() as server:
            yield server
    except servers.Unavailable as error:
        missing("redis", str(error))


@pytest.fixture(scope="session")
def company(database_server: servers.Server, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """What the clients need to know of the filled database."""
    folder = tmp_path_factory.mktemp("fill")
    _create(database_server, FILLED, "template0")
    # No broker: nothing of what is written here is to be done yet.
    nowhere = servers.Server("redis://127.0.0.1:1/0", Path(), None, None)  # type: ignore[arg-type]
    told: dict[str, Any] = Installation(folder, _address(database_server, FILLED), nowhere, "").tell("fill")
    return told


@pytest.fixture
def phones() -> Iterator[Gateway]:
    """The gateway behind which every phone is."""
    with gateway() as state:
        yield state


@pytest.fixture
def installation(
    database_server: servers.Server, company: dict[str, Any], broker: servers.Server, phones: Gateway, tmp_path: Path
) -> Iterator[Installation]:
    """Nothing of it is started yet."""
    name = f"copy_{uuid4().hex[:8]}"
    _create(database_server, name, FILLED)
    made = Installation(tmp_path, _address(database_server, name), broker, phones.address)
    yield made
    made.stop()


@pytest.fixture
def work(installation: Installation, company: dict[str, Any]) -> Work:
    return Work(installation, company)


def _create(server: servers.Server, name: str, template: str) -> None:
    with psycopg.connect(server.address, autocommit=True) as asked:
        asked.execute(f'CREATE DATABASE "{name}" TEMPLATE "{template}"'.encode())


def _address(server: servers.Server, name: str) -> str:
    return server.address.rpartition("/")[0] + f"/{name}"
