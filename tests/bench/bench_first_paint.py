"""
How soon a crew lead's phone shows something on a cold cache, and how many bytes it loads until then and in all.

    EBBLINE_DATA=FOLDER python -m tests.bench.bench_first_paint

FOLDER holds the demo company: `manage.py demo --no-serve`, then `manage.py runner --once` for the day's routes. The
pages come from gunicorn with the web server's own settings, to a phone-sized Chromium with an empty cache and no
worker: 7 times each, without a limit of the network and as on a slow mobile network (1.6 Mbit/s, 150 ms there and
back). First contentful paint is the browser's own figure (Paint Timing). Goal: 1 s and 150 kB.
"""

import os
import statistics
import subprocess
import sys
import time
import urllib.request
from dataclasses import dataclass
from typing import Any

import django

RUNS = 7
GOAL_MS, GOAL_KB = 1000, 150
SLOW = {"offline": False, "latency": 150, "downloadThroughput": 1_600_000 / 8, "uploadThroughput": 750_000 / 8}
PAINTED = "performance.getEntriesByName('first-contentful-paint')[0]?.startTime"


@dataclass(frozen=True)
class Painted:
    """One cold opening: when something was seen, and kilobytes by then and until nothing more was loaded."""

    first_paint_ms: float
    loaded_kb: float
    requests: int


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    django.setup()
    from tests.servers import _free_port

    cookie, paths = _lead()
    address = f"http://127.0.0.1:{_free_port()}"
    web = _serve(address)
    try:
        print(f"{'':<22} {'network':<8} {'paint ms, median':>17} {'most':>6} {'kB':>6} {'requests':>9}")
        for path in paths:
            for network, limits in (("free", None), ("slow", SLOW)):
                _tell(path, network, [_opened(address + path, cookie, limits) for _ in range(RUNS)])
    finally:
        web.terminate()
        web.wait()


def _tell(path: str, network: str, runs: list[Painted]) -> None:
    paints = [run.first_paint_ms for run in runs]
    kb = max(run.loaded_kb for run in runs)
    late = "  above the goal" if statistics.median(paints) > GOAL_MS or kb > GOAL_KB else ""
    middle = statistics.median(paints)
    print(f"{path:<22} {network:<8} {middle:>17.0f} {max(paints):>6.0f} {kb:>6.0f} {runs[0].requests:>9}{late}")


def _lead() -> tuple[dict[str, str], list[str]]:
    """A session of the lead with the most stops, and the two pages."""
    from django.conf import settings

    from tests.bench.bench_pages import _lead_with_stops

    client, visit_id = _lead_with_stops()
    name = settings.SESSION_COOKIE_NAME
    return {"name": name, "value": client.cookies[name].value}, ["/crew", f"/crew/stops/{visit_id}"]


def _serve(address: str) -> "subprocess.Popen[bytes]":
    command = [sys.executable, "-m", "gunicorn", "-c", "python:config.web_server", "config.wsgi"]
    web = subprocess.Popen(command, env={**os.environ, "EBBLINE_BIND": address.removeprefix("http://")})
    until = time.monotonic() + 120
    while True:
        try:
            urllib.request.urlopen(f"{address}/livez", timeout=10)
        except OSError:
            if time.monotonic() > until or web.poll() is not None:
                web.terminate()
                raise
            time.sleep(0.5)
        else:
            return web


def _opened(url: str, cookie: dict[str, str], limits: dict[str, Any] | None) -> Painted:
    """One opening in a browser of its own."""
    from playwright.sync_api import sync_playwright

    from tests.servers import CHROMIUM_FLAGS, chromium

    loaded: dict[str, float] = {}
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=chromium(), args=list(CHROMIUM_FLAGS))
        # Without the worker: what it keeps for the day comes after the page and would be counted with it.
        context = browser.new_context(
            viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True, service_workers="block"
        )
        context.add_cookies([{**cookie, "url": url}])
        page = context.new_page()
        wire = context.new_cdp_session(page)
        wire.send("Network.enable")
        wire.send("Network.setCacheDisabled", {"cacheDisabled": True})
        if limits is not None:
            wire.send("Network.emulateNetworkConditions", limits)
        wire.on("Network.loadingFinished", lambda done: loaded.update({done["requestId"]: done["encodedDataLength"]}))
        answer = page.goto(url, wait_until="networkidle")
        assert answer is not None
        assert answer.ok, (url, answer.status)
        page.wait_for_function(PAINTED)
        painted = Painted(page.evaluate(PAINTED), sum(loaded.values()) / 1000, len(loaded))
        browser.close()
    return painted


if __name__ == "__main__":
    main()
