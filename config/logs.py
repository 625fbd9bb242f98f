"""
Log lines a machine can read, with the id of the request they belong to and without personal data.

What an exception says may quote a name or a number, so its type and its place are logged, never its words. Our own log
calls name ids and kinds only. What looks like a phone number or a mail address all the same is blotted out.
"""

import json
import logging
import re
import traceback
from contextvars import ContextVar
from datetime import UTC, datetime
from typing import Any

request_id: ContextVar[str] = ContextVar("request id", default="")

_PHONE = re.compile(r"(?<![\w.-])\+?1?[-. ]?\(?\d{3}\)?[-. ]?\d{3}[-. ]?\d{4}(?![\w-])")
_MAIL = re.compile(r"[\w.+-]+@[\w-]+\.[\w.]+")
# What may stand beside the message: given by `extra=` where a line has figures of its own.
FIGURES = ("view", "method", "status", "ms", "work", "kind")


def blotted(text: str) -> str:
    """The text with numbers and addresses that reach a person taken out."""
    return _MAIL.sub("[mail]", _PHONE.sub("[number]", text))


class JsonLines(logging.Formatter):
    """One JSON object a line: time, level, logger, message, request, figures, and where it broke."""

    def format(self, record: logging.LogRecord) -> str:
        line: dict[str, Any] = {
            "time": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname,
            "logger": record.name,
            "message": blotted(record.getMessage()),
        }
        if request_id.get():
            line["request"] = request_id.get()
        line |= {name: getattr(record, name) for name in FIGURES if hasattr(record, name)}
        if record.exc_info and record.exc_info[0]:
            line |= _broke(record.exc_info[0], record.exc_info[2])
        return json.dumps(line, default=str)


def _broke(kind: type[BaseException], place: Any) -> dict[str, Any]:
    frames = [f"{frame.filename}:{frame.lineno} {frame.name}" for frame in traceback.extract_tb(place)]
    return {"exception": f"{kind.__module__}.{kind.__qualname__}", "frames": frames[-12:]}


def configuration(*, style: str, level: str) -> dict[str, Any]:
    """For `logging.config.dictConfig`; `style` is `plain` for a terminal or `json`."""
    quiet: dict[str, Any] = {"level": "ERROR"}
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "formatters": {
            "plain": {"format": "{asctime} {levelname} {name} {message}", "style": "{"},
            "json": {"()": "config.logs.JsonLines"},
        },
        "handlers": {"console": {"class": "logging.StreamHandler", "formatter": style}},
        "root": {"handlers": ["console"], "level": level},
        "loggers": {
            # They name who tried to sign in, and from where.
            "axes": quiet,
            "django.request": quiet,
            "django.server": quiet,
            # It quotes the statement with its values.
            "django.db.backends": {"level": "WARNING"},
            "config.requests": {} if style == "json" else {"level": "WARNING"},
        },
    }
