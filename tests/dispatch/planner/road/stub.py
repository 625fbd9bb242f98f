"""A road service of our own on a free port: answers as told, counts what it is asked."""

from __future__ import annotations

import json
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

# (path with query, body or null) -> (status, text)
Reply = Callable[[str, Any], tuple[int, str]]


@dataclass
class Stub:
    url: str
    asked: list[tuple[str, Any]] = field(default_factory=list)


@contextmanager
def served(reply: Reply) -> Iterator[Stub]:
    """The stub, running for as long as the block."""
    stub = Stub("")

    class Handler(BaseHTTPRequestHandler):
        def _answer(self, body: Any) -> None:
            stub.asked.append((self.path, body))
            status, text = reply(self.path, body)
            try:
                self.send_response(status)
                self.end_headers()
                self.wfile.write(text.encode())
            except OSError:
                pass  # The asker's patience ran out, as some tests want.

        def do_GET(self) -> None:
            self._answer(None)

        def do_POST(self) -> None:
            self._answer(json.loads(self.rfile.read(int(self.headers["Content-Length"]))))

        def log_message(self, format: str, *args: Any) -> None:
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    stub.url = f"http://127.0.0.1:{server.server_port}"
    thread = threading.Thread(target=server.serve_forever, args=(0.02,), daemon=True)
    thread.start()
    try:
        yield stub
    finally:
        server.shutdown()
        server.server_close()
        thread.join()
