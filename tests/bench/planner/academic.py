"""
Academic instances of the routing problem with time windows as problems of our port.

Convention of the costs: DIMACS / CVRPLIB: distances and durations truncated to one decimal (here in tenths, whole
numbers), total distance, free fleet. Files are VRPLIB text, read with ``vrplib``; ``best_known.csv`` lies beside them.
"""

from __future__ import annotations

import argparse
import csv
import json
from math import hypot
from pathlib import Path
from typing import Any

import vrplib


def problem_of(path: Path) -> dict[str, Any]:
    """The instance in the port's form, one cost unit being a tenth of its length unit."""
    raw = vrplib.read_instance(str(path), compute_edge_weights=False)
    points, windows = raw["node_coord"], raw["time_window"]
    tenths = [[int(10 * hypot(*(a - b))) for b in points] for a in points]
    services = raw["service_time"]
    if not hasattr(services, "__len__"):
        services = [services] * len(points)
    close = int(windows[0][1])
    fleet = int(raw.get("vehicles", len(points) - 1))
    return {
        "format": 1,
        "now": 0,
        "stock": [],
        "places": [{"id": f"n{i}", "lat": 0.0, "lon": 0.0} for i in range(len(points))],
        "travel": {"seconds": tenths, "meters": tenths},
        "prices": {"per_meter": 1, "per_driving_second": 0, "per_overtime_second": 0},
        "crews": [_crew(i, 10 * close, int(raw["capacity"])) for i in range(fleet)],
        "visits": [
            _visit(i, 10 * int(services[i]), [10 * int(t) for t in windows[i]], int(raw["demand"][i]))
            for i in range(1, len(points))
        ],
    }


def best_known(folder: Path) -> dict[str, float]:
    """Best known costs by ``set/instance``, in the instances' own unit."""
    with (folder / "best_known.csv").open(encoding="utf-8") as lines:
        rows = list(csv.reader(lines))
    return {f"{row[0]}/{row[1]}" if len(row) > 2 else row[0]: float(row[-1]) for row in rows[1:]}


def _crew(i: int, close: int, capacity: int) -> dict[str, Any]:
    return {
        "id": f"c{i}",
        "start": "n0",
        "end": "n0",
        "from": 0,
        "until": close,
        "at_latest": close,
        "skills": [],
        "states": [],
        "capacity": {"load": capacity},
        "fixed": 0,
        "break": None,
        "driving_limit_s": None,
        "aboard": None,
        "break_taken": None,
        "under_way": None,
        "begun": [],
    }


def _visit(i: int, service: int, window: list[int], demand: int) -> dict[str, Any]:
    return {
        "id": f"v{i}",
        "place": f"n{i}",
        "service_s": service,
        "window": window,
        "due": None,
        "per_late_second": 0,
        "skills": [],
        "state": None,
        "deliver": {"load": demand},
        "collect": {},
        "skip": None,
        "only": None,
        "prefer": {},
        "promised": None,
        "per_moved_second": 0,
    }


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description="Write one academic instance as a problem file.")
    parser.add_argument("path", type=Path)
    print(json.dumps(problem_of(parser.parse_args().path)))
