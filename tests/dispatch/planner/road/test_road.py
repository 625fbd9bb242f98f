"""Road times from a service that answers, is slow, is wrong, or is away; always said aloud."""

from __future__ import annotations

import json
import threading
from collections.abc import Callable
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest

from dispatch.planner.problem import Place
from dispatch.planner.road import Estimated
from dispatch.planner.road.osrm import Osrm
from dispatch.planner.road.tables import RoadTimes, TableService
from dispatch.planner.road.valhalla import Valhalla
from tests.dispatch.planner.road.stub import Reply, served

PLACES = [Place(id=f"p{i}", lat=45 + i / 100, lon=-122 - i / 50) for i in range(5)]
ESTIMATE = Estimated().between(PLACES).travel


def _drive(a: tuple[float, float], b: tuple[float, float]) -> tuple[float, float]:
    """Made-up seconds and metres that tell every pair and direction apart."""
    far = round(abs(a[0] - b[0]) * 100) + (0.5 if a[0] > b[0] else 0)
    return 60 * far + 0.25, 900 * far


def osrm_reply(path: str, body: Any) -> tuple[int, str]:
    parts = urlsplit(path)
    points = [tuple(map(float, p.split(",")))[::-1] for p in parts.path.rsplit("/", 1)[1].split(";")]
    query = parse_qs(parts.query)
    sources, targets = ([points[int(i)] for i in query[k][0].split(";")] for k in ("sources", "destinations"))
    drives = [[_drive(a, b) for b in targets] for a in sources]
    seconds, meters = ([[cell[i] for cell in row] for row in drives] for i in (0, 1))
    return 200, json.dumps({"code": "Ok", "durations": seconds, "distances": meters})


def valhalla_reply(path: str, body: Any) -> tuple[int, str]:
    points = {k: [(p["lat"], p["lon"]) for p in body[k]] for k in ("sources", "targets")}
    drives = [[_drive(a, b) for b in points["targets"]] for a in points["sources"]]
    rows = [[{"time": s, "distance": m / 1000} for s, m in row] for row in drives]
    return 200, json.dumps({"sources_to_targets": rows, "units": "kilometers"})


ENGINES: list[tuple[Callable[..., TableService], Reply]] = [(Osrm, osrm_reply), (Valhalla, valhalla_reply)]


@pytest.mark.parametrize(("engine", "reply"), ENGINES)
@pytest.mark.parametrize("most_points", [2, 3, 100])
def test_a_table_is_read_in_its_direction(engine: Callable[..., TableService], reply: Reply, most_points: int) -> None:
    with served(reply) as stub:
        service = engine(stub.url, most_points=most_points)
        measured = RoadTimes(service).between(PLACES)
    assert (measured.source, measured.notes) == (service.name, ())
    assert measured.travel.seconds[0][2] == 121  # 2 steps of 60 s and a quarter, rounded up
    assert measured.travel.meters[0][2] == 1_800
    assert measured.travel.meters[2][0] == 2_250
    assert measured.travel.seconds[3][3] == 0


def test_osrm_is_asked_lon_before_lat_at_its_own_path() -> None:
    with served(osrm_reply) as stub:
        RoadTimes(Osrm(stub.url + "/")).between(PLACES[:2])
    assert stub.asked[0][0].startswith("/table/v1/driving/-122.0,45.0;-122.0,45.0;-122.02,45.01?sources=0&")


def test_what_is_known_is_not_asked_again_until_it_is_old() -> None:
    clock = [0.0]
    with served(osrm_reply) as stub:
        road = RoadTimes(Osrm(stub.url), keep_s=100, clock=lambda: clock[0])
        first = road.between(PLACES)
        asked = len(stub.asked)
        assert road.between(PLACES) == first
        assert len(stub.asked) == asked
        clock[0] = 101
        assert road.between(PLACES) == first
        assert len(stub.asked) == 2 * asked


def test_one_new_place_costs_one_row_and_one_column() -> None:
    with served(valhalla_reply) as stub:
        road = RoadTimes(Valhalla(stub.url))
        road.between(PLACES[:4])
        del stub.asked[:]
        road.between(PLACES)
    sizes = sorted((len(body["sources"]), len(body["targets"])) for _, body in stub.asked)
    assert sizes == [(1, 5), (4, 1)]


@pytest.mark.parametrize(("engine", "reply"), ENGINES)
def test_a_drive_without_a_road_is_estimated_and_said(engine: Callable[..., TableService], reply: Reply) -> None:
    def with_a_gap(path: str, body: Any) -> tuple[int, str]:
        status, text = reply(path, body)
        told = json.loads(text)
        if "durations" in told:
            told["durations"][0][-1] = told["distances"][0][-1] = None
        else:
            told["sources_to_targets"][0][-1] = {"time": None, "distance": None}
        return status, json.dumps(told)

    with served(with_a_gap) as stub:
        measured = RoadTimes(engine(stub.url)).between(PLACES[:2])
    assert measured.travel.seconds[0][1] == ESTIMATE.seconds[0][1]
    assert len(measured.notes) == 1
    assert "found no road" in measured.notes[0]


def _cut(text: str) -> Reply:
    return lambda path, body: (200, text)


WRONG: list[tuple[str, Reply, str]] = [
    ("an error", lambda path, body: (500, "{}"), "HTTP 500"),
    ("no JSON", _cut("<html>"), "not JSON"),
    ("no object", _cut("[]"), "not a JSON object"),
    ("no table", _cut('{"code": "Ok"}'), "another size"),
    ("a refusal", _cut('{"code": "TooBig"}'), "refused"),
    ("too few rows", _cut('{"code": "Ok", "durations": [[1]], "distances": [[1]]}'), "another size"),
]


@pytest.mark.parametrize(("name", "reply", "why"), WRONG, ids=[w[0] for w in WRONG])
def test_a_wrong_answer_falls_back_and_says_why(name: str, reply: Reply, why: str) -> None:
    with served(reply) as stub:
        measured = RoadTimes(Osrm(stub.url)).between(PLACES)
    assert measured.travel == ESTIMATE
    assert measured.source == "estimate"
    assert why in measured.notes[0]


@pytest.mark.parametrize("cell", ["-1", "true", '"5"', "NaN", "1e300"])
def test_a_drive_that_cannot_be_falls_back(cell: str) -> None:
    text = f'{{"code": "Ok", "durations": [[0, {cell}]], "distances": [[0, 1]]}}'
    with served(_cut(text)) as stub:
        measured = RoadTimes(Osrm(stub.url)).between(PLACES[:2])
    assert measured.source == "estimate"
    assert "cannot be" in measured.notes[0]


def test_a_slow_service_is_not_waited_for() -> None:
    released = threading.Event()

    def slow(path: str, body: Any) -> tuple[int, str]:
        released.wait(10)
        return 200, "{}"

    with served(slow) as stub:
        measured = RoadTimes(Valhalla(stub.url, timeout_s=0.1)).between(PLACES)
        released.set()
    assert measured.travel == ESTIMATE
    assert "within 0.1 s" in measured.notes[0]


def test_a_service_that_is_away_is_said_to_be() -> None:
    with served(osrm_reply) as stub:
        gone = stub.url
    measured = RoadTimes(Osrm(gone)).between(PLACES)
    assert measured.travel == ESTIMATE
    assert "cannot be reached" in measured.notes[0]


def test_only_web_addresses_are_taken() -> None:
    for url in ("file:///etc/hosts", "localhost:5000", "", "ftp://example.org"):
        with pytest.raises(ValueError, match="not the address"):
            Osrm(url)
