"""A text message gateway that listens on this machine and answers as a test says; it tells repeats by their key."""

import json
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

DROP = 0  # closes the connection without an answer


@dataclass
class Gateway:
    """What came in, and how it answers: `answers` one after the other, then `always`."""

    address: str = ""
    always: int = 202
    answers: list[int] = field(default_factory=list)
    pause_s: float = 0.0
    asked: list[dict[str, Any]] = field(default_factory=list)
    sent: dict[str, dict[str, Any]] = field(default_factory=dict)


@contextmanager
def gateway() -> Iterator[Gateway]:
    """Listen until the block ends."""
    state = Gateway()

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers["Content-Length"])).decode()
            told = {"path": self.path, "body": body, **{name.lower(): value for name, value in self.headers.items()}}
            state.asked.append(told)
            time.sleep(state.pause_s)
            answer = state.answers.pop(0) if state.answers else state.always
            if answer == DROP:
                self.close_connection = True
                return
            if answer < 300:
                state.sent.setdefault(told["idempotency-key"], told)
            self.send_response(answer)
            self.end_headers()

        def log_message(self, *args: Any) -> None:
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    state.address = f"http://127.0.0.1:{server.server_address[1]}/messages"
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True)
    thread.start()
    try:
        yield state
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


def texts(state: Gateway, name: str = "text") -> list[str]:
    """The texts that were accepted, in order, each once."""
    return [json.loads(told["body"])[name] for told in state.sent.values()]
