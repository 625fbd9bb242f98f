"""Fixtures that every test may ask for: real servers, the browser, and an environment for child processes."""

import os
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, ExitStack
from pathlib import Path
from typing import Any, NoReturn
from urllib.parse import quote

import pytest
from django.conf import settings
from django.db import connection

from jobs import guards
from tests import servers

# Playwright's sync API leaves an event loop in this thread, which Django would take for asynchronous code.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")

REQUIRED = frozenset(filter(None, os.environ.get("REQUIRE_SERVICES", "").split(",")))
KNOWN_SERVICES = frozenset({"postgres", "redis", "browser"})
BROWSER_FIXTURES = frozenset({"page", "context", "new_context", "browser", "browser_type", "playwright"})
# A test that chooses its own server gains nothing from being run on another.
OWN_DATABASE_FIXTURES = frozenset({"postgres"})
DATABASE_FIXTURES = frozenset({"db", "transactional_db", "live_server", "admin_client", "admin_user"})


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--only-database",
        action="store_true",
        help="run only the tests that use the database and no browser (what the run on PostgreSQL repeats)",
    )


def pytest_configure(config: pytest.Config) -> None:
    if unknown := REQUIRED - KNOWN_SERVICES:
        raise pytest.UsageError(f"REQUIRE_SERVICES knows {sorted(KNOWN_SERVICES)}, not {sorted(unknown)}")
    # What a test does by the clock must not write into the working folder.
    settings.BOARD_KEEP = 0
    # The real hasher is slow on purpose, and nearly every test signs somebody in.
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


def pytest_xdist_auto_num_workers(config: pytest.Config) -> int:
    """Two workers for the whole suite; none where somebody names what to run, since starting them costs more."""
    return 2 if config.args_source == pytest.Config.ArgsSource.TESTPATHS else 0


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if config.getoption("--only-database"):
        chosen = [item for item in items if _runs_on_either_database(item)]
        config.hook.pytest_deselected(items=[item for item in items if item not in set(chosen)])
        items[:] = chosen
    # The longest first, so that the workers finish together.
    items.sort(key=lambda item: item.get_closest_marker("first") is None)


def _runs_on_either_database(item: pytest.Item) -> bool:
    if _asks_for(item, BROWSER_FIXTURES | OWN_DATABASE_FIXTURES):
        return False
    return item.get_closest_marker("django_db") is not None or _asks_for(item, DATABASE_FIXTURES)


def _asks_for(item: pytest.Item, fixtures: frozenset[str]) -> bool:
    return not fixtures.isdisjoint(getattr(item, "fixturenames", ()))


def pytest_terminal_summary(terminalreporter: Any) -> None:
    """Print what tests recorded under `note`, such as how many tests passed on the other database."""
    for report in terminalreporter.getreports("passed"):
        for name, value in report.user_properties:
            if name == "note":
                terminalreporter.write_line(str(value))


def missing(service: str, why: str) -> NoReturn:
    """Skip for want of a service, or fail where `REQUIRE_SERVICES` promises it."""
    if service in REQUIRED:
        pytest.fail(f"{service} is required here, but: {why}", pytrace=False)
    pytest.skip(f"{service}: {why}")


def _running(service: str, start: Callable[[], AbstractContextManager[servers.Server]]) -> Iterator[servers.Server]:
    with ExitStack() as stack:
        try:
            server = stack.enter_context(start())
        except servers.Unavailable as error:
            missing(service, str(error))
        yield server


@pytest.fixture(scope="session")
def postgres() -> Iterator[servers.Server]:
    """A real PostgreSQL server; `address` names its maintenance database."""
    yield from _running("postgres", servers.postgres)


@pytest.fixture(scope="session")
def redis_server() -> Iterator[servers.Server]:
    """A real Redis server; `address` can be given as `REDIS_URL`."""
    yield from _running("redis", servers.redis_server)


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args: dict[str, Any]) -> dict[str, Any]:
    """The machine's Chromium instead of Playwright's own download."""
    try:
        program = servers.chromium()
    except servers.Unavailable as error:
        missing("browser", str(error))
    return {**browser_type_launch_args, "executable_path": str(program), "args": list(servers.CHROMIUM_FLAGS)}


@pytest.fixture(scope="session")
def django_db_modify_db_settings(
    django_db_modify_db_settings_parallel_suffix: None, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """
    Keep SQLite's test database in this run's own folder, so that two runs cannot meet.

    It is a file because child processes cannot see another's memory, and is named as the program names its
    database, so that a child finds it by the folder alone (see `child_environment`).
    """
    if connection.vendor == "sqlite":
        folder = tmp_path_factory.mktemp("database")
        connection.settings_dict["TEST"]["NAME"] = str(folder / "ebbline.sqlite3")


@pytest.fixture(scope="session", autouse=True)
def _ledgers_can_be_emptied() -> Iterator[None]:
    """
    After a test with transactions Django empties all tables, which the ledgers' triggers refuse.

    They are taken away for that moment; the `post_migrate` that follows every flush makes them again.
    """
    operations = type(connection.ops)
    flush = operations.execute_sql_flush

    def unguarded_flush(self: Any, sql_list: list[str]) -> None:
        guards.remove(self.connection.alias)
        flush(self, sql_list)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(operations, "execute_sql_flush", unguarded_flush)
        yield


@pytest.fixture(scope="session", autouse=True)
def _name_the_database(record_testsuite_property: Callable[[str, object], None]) -> None:
    """Say in a JUnit report which database the tests really ran on."""
    record_testsuite_property("database", connection.vendor)


@pytest.fixture
def child_environment(transactional_db: None, tmp_path: Path) -> dict[str, str]:
    """The environment in which a child process of the program works on this test's database."""
    environment = {
        name: value for name, value in os.environ.items() if name not in {"DATABASE_URL", "REDIS_URL", "EBBLINE_DATA"}
    }
    database = connection.settings_dict
    if connection.vendor == "sqlite":
        return {**environment, "EBBLINE_DATA": str(Path(database["NAME"]).parent)}
    who = quote(database["USER"]) + (f":{quote(database['PASSWORD'])}" if database["PASSWORD"] else "")
    address = f"postgres://{who}@{database['HOST']}:{database['PORT']}/{database['NAME']}"
    return {**environment, "EBBLINE_DATA": str(tmp_path), "DATABASE_URL": address}
