"""Several web processes behind one address: they answer as documented, and one that is killed loses nothing."""

import http.client
import os
import random
import re
import signal
import time
from concurrent.futures import ThreadPoolExecutor
from http.cookies import SimpleCookie
from typing import Any
from urllib.parse import urlencode

import pytest

from tests.faults.installation import HOST, METRICS, ROOT, Installation, until
from tests.faults.work import Work

pytestmark = pytest.mark.long


def test_killed_in_mid_request_each_accepted_answer_is_in_the_database_once(
    installation: Installation, work: Work
) -> None:
    installation.start("web")
    draw = random.Random(1)
    with work.going_on("call", "hold", "scan", "read"):
        for _ in range(5):
            work.more(8)
            time.sleep(draw.uniform(0, 0.1))
            os.kill(draw.choice(installation.children("web")), signal.SIGKILL)
    assert installation.broken > 0, "nobody was in the middle of a request"
    assert set(work.accepted) == {"call", "hold", "scan", "read"}
    work.is_there_once()


def test_behind_the_documented_settings_it_signs_in_and_answers(
    installation: Installation, company: dict[str, Any]
) -> None:
    told = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    for line in ("gunicorn -c python:config.web_server config.wsgi", "-Q quick", "-Q plan", "celery -A config beat"):
        assert line in told
    assert "no issues" in installation.manage("check", "--deploy", "--fail-level", "WARNING")
    installation.start("web", "quick", "plan", "beat")
    assert len(installation.children("web")) == 2

    session = _sign_in(installation, "dispatcher", company["password"])
    status, headers, page = installation.ask("/desk", session)
    assert (status, b"Open calls" in page) == (200, True)
    assert headers["Strict-Transport-Security"].startswith("max-age=31536000")
    assert "unsafe-inline" not in headers["Content-Security-Policy"]
    files = re.findall(r'(?:href|src)="(/static/[^"]+)"', page.decode())
    assert len(files) > 3
    for file in files:
        assert installation.ask(file)[0] == 200, file
    assert b"/api/v1/" in installation.ask("/api/v1/schema", session)[2]

    with ThreadPoolExecutor(8) as many:
        answers = list(many.map(lambda _: installation.ask("/desk", session)[0], range(40)))
    assert set(answers) == {200}
    until(lambda: installation.ask("/healthz")[0] == 200, f"not well: {installation.ask('/healthz')}")
    metrics = installation.ask("/metrics", Authorization=f"Bearer {METRICS}")[2].decode()
    (counted,) = re.findall(r'ebbline_requests_total\{method="GET",status="200",view="desk:board"\} ([0-9.]+)', metrics)
    assert float(counted) == 41, "the sum of all processes, whichever answers"
    assert installation.ask("/metrics", **{"X-Forwarded-For": "203.0.113.9"})[0] == 404

    assert installation.ask("/desk", session, Host="elsewhere.example.com")[0] == 400
    status, headers, _ = installation.ask("/desk", session, **{"X-Forwarded-Proto": "http"})
    assert (status, headers["Location"]) == (301, f"https://{HOST}/desk")


def _sign_in(installation: Installation, name: str, password: str) -> str:
    """The session of somebody who filled in the form."""
    _, headers, _ = installation.ask("/sign-in")
    token = SimpleCookie(headers["Set-Cookie"])["csrftoken"].value
    line = http.client.HTTPConnection("127.0.0.1", installation.port, timeout=60)
    given = {
        "Host": HOST,
        "X-Forwarded-Proto": "https",
        "Origin": f"https://{HOST}",
        "Cookie": f"csrftoken={token}",
        "Content-Type": "application/x-www-form-urlencoded",
    }
    line.request(
        "POST",
        "/sign-in",
        urlencode({"username": name, "password": password, "csrfmiddlewaretoken": token}),
        given,
    )
    answer = line.getresponse()
    cookies = SimpleCookie("; ".join(value for key, value in answer.getheaders() if key == "Set-Cookie"))
    found = {value.split("=", 1)[0]: value for key, value in answer.getheaders() if key == "Set-Cookie"}
    line.close()
    assert answer.status == 302, answer.read()
    assert "Secure" in found["sessionid"]
    assert "HttpOnly" in found["sessionid"]
    return cookies["sessionid"].value
