"""
One JSON request to a road service, within a time limit; every way of failing becomes one sentence.
"""

from __future__ import annotations

import json
from http.client import HTTPException
from urllib.error import HTTPError, URLError
from urllib.parse import urlsplit
from urllib.request import Request, urlopen

from dispatch.planner.road import RoadUnavailable

# A table of 100 by 100 drives is well below a megabyte; more than this is no table.
MOST_BYTES = 32 * 1024 * 1024


def base_url(url: str) -> str:
    """
    The service's address without a trailing slash.

    :raises ValueError: if it is not an http or https address.
    """
    parts = urlsplit(url)
    if parts.scheme not in {"http", "https"} or not parts.hostname:
        raise ValueError(f"{url!r} is not the address of a road service; give one like http://localhost:5000")
    return url.rstrip("/")


def answer(url: str, timeout_s: float, body: object = None) -> dict[str, object]:
    """
    The JSON object that a GET, or a POST of ``body``, is answered with.

    :raises RoadUnavailable: if none came within ``timeout_s`` seconds.
    """
    data = None if body is None else json.dumps(body).encode()
    # The scheme was checked by base_url, so this opens no file.
    request = Request(url, data=data, headers={"Accept": "application/json", "Content-Type": "application/json"})
    try:
        with urlopen(request, timeout=timeout_s) as response:
            raw = response.read(MOST_BYTES + 1)
    except HTTPError as error:
        raise RoadUnavailable(f"the road service refused the question (HTTP {error.code}).") from error
    except TimeoutError as error:
        raise RoadUnavailable(f"the road service did not answer within {timeout_s:g} s.") from error
    except URLError as error:
        late = isinstance(error.reason, TimeoutError)
        why = f"did not answer within {timeout_s:g} s" if late else "cannot be reached"
        raise RoadUnavailable(f"the road service {why}.") from error
    except (OSError, HTTPException) as error:
        raise RoadUnavailable("the road service broke off its answer.") from error
    if len(raw) > MOST_BYTES:
        raise RoadUnavailable("the road service answered with more than any table holds.")
    try:
        value = json.loads(raw)
    except (ValueError, RecursionError) as error:
        raise RoadUnavailable("the road service answered with something that is not JSON.") from error
    if not isinstance(value, dict):
        raise RoadUnavailable("the road service answered with something that is not a JSON object.")
    return value
