"""A real routing engine on a made-up town; only where the optional extra ``valhalla`` is installed."""

from __future__ import annotations

import json
import socket
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path
from urllib.error import URLError
from urllib.request import urlopen

import pytest

from dispatch.planner.problem import Place
from dispatch.planner.road.tables import RoadTimes
from dispatch.planner.road.valhalla import Valhalla
from dispatch.planner.travel import great_circle_m
from tests.dispatch.planner.road.tiny_map import street_corner, write_town

valhalla = pytest.importorskip("valhalla")


@pytest.fixture(scope="module")
def engine(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address of a service that knows the town."""
    folder = tmp_path_factory.mktemp("town")
    tiles = folder / "tiles"
    tiles.mkdir()
    write_town(folder / "town.osm.pbf")
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    settings = valhalla.get_config(tile_extract="", tile_dir=tiles, verbose=True)
    settings["httpd"]["service"] |= {"listen": f"tcp://127.0.0.1:{port}"}
    for end in ("loopback", "interrupt"):
        settings["httpd"]["service"][end] = f"ipc://{folder}/{end}"
    for worker in ("loki", "thor", "odin", "meili"):
        settings[worker].setdefault("service", {})["proxy"] = f"ipc://{folder}/{worker}"
    config = folder / "valhalla.json"
    config.write_text(json.dumps(settings))
    # It leaves a report in its working folder.
    _run("valhalla_build_tiles", "-c", str(config), str(folder / "town.osm.pbf"), cwd=folder)
    with (folder / "log").open("wb") as log:
        service = subprocess.Popen(_command("valhalla_service", str(config), "1"), stdout=log, stderr=log)
        try:
            yield _awaited(f"http://127.0.0.1:{port}", folder / "log")
        finally:
            # It would drain for half a minute if asked politely, and it holds nothing worth keeping.
            service.kill()
            service.wait(20)


def _command(name: str, *arguments: str) -> list[str]:
    # The executable itself: the package's own starter would leave it running when it is stopped.
    return [str(Path(valhalla.__file__).parent / "bin" / name), *arguments]


def _run(name: str, *arguments: str, cwd: Path) -> None:
    done = subprocess.run(_command(name, *arguments), cwd=cwd, capture_output=True, timeout=120, check=False)
    assert done.returncode == 0, done.stdout[-2000:] + done.stderr[-2000:]


def _awaited(url: str, log: Path) -> str:
    for _ in range(100):
        try:
            with urlopen(f"{url}/status", timeout=1):
                return url
        except (URLError, OSError):
            time.sleep(0.1)
    pytest.fail(f"the service did not start: {log.read_text(errors='replace')[-2000:]}")


def test_a_real_engine_drives_along_the_streets(engine: str) -> None:
    corners = [(0, 0), (0, 6), (6, 0), (3, 3)]
    places = [Place(id=str(c), lat=street_corner(*c)[0], lon=street_corner(*c)[1]) for c in corners]
    measured = RoadTimes(Valhalla(engine)).between(places)
    assert (measured.source, measured.notes) == ("Valhalla", ())
    straight_m = great_circle_m(places)
    # Along one street the drive is the straight line; across the town it is the two sides of the grid.
    assert measured.travel.meters[0][1] == pytest.approx(straight_m[0, 1], rel=0.02)
    assert measured.travel.meters[1][2] == pytest.approx(straight_m[0, 1] + straight_m[0, 2], rel=0.02)
    for i in range(4):
        for k in range(4):
            assert (measured.travel.seconds[i][k] > 0) == (i != k)
