"""What the server writes down: one JSON object a line, with time and request id.

No name, address, account, tablet or typed word goes into the log: calls are named by their
rule (`/desk/reports/<uuid:name>`), failures by their kind and where in the code they arose.
"""

from __future__ import annotations

import json
import logging
import re
import sys
import traceback
import uuid
from datetime import UTC, datetime
from typing import Any, TextIO

from flask import Flask, Response, current_app, g, has_request_context, request

HEADER = "X-Request-Id"
GIVEN = re.compile(r"[0-9a-fA-F-]{8,64}")
#: Asked every few seconds by programs: not worth a line each.
QUIET = ("/health", "/metrics")
calls = logging.getLogger("step-in-hand.calls")


class Lines(logging.Formatter):
    """Write a record as one line of JSON."""

    def format(self, record: logging.LogRecord) -> str:
        line: dict[str, Any] = {
            "time": datetime.fromtimestamp(record.created, UTC).isoformat("T", "milliseconds"),
            "level": record.levelname.lower(),
            "from": record.name,
            "message": record.getMessage(),
        }
        if has_request_context():
            line["request"] = request_id()
        line |= getattr(record, "facts", {})
        if record.exc_info and record.exc_info[1]:
            line |= failure(record.exc_info[1])
        return json.dumps(line)


def failure(error: BaseException) -> dict[str, Any]:
    """Return kind and place of a failure. Its words may quote what somebody typed."""
    frames = traceback.extract_tb(error.__traceback__)
    return {
        "failure": f"{type(error).__module__}.{type(error).__qualname__}",
        "at": [f"{frame.filename}:{frame.lineno} {frame.name}" for frame in frames],
    }


def begin(stream: TextIO | None = None) -> None:
    """Send all that is logged to ``stream`` (the error output if not given) as JSON lines."""
    handler = logging.StreamHandler(stream or sys.stderr)
    handler.setFormatter(Lines())
    root = logging.getLogger()
    root.handlers[:] = [handler]
    root.setLevel(logging.INFO)
    # At this level it says which address a client left while reading.
    logging.getLogger("waitress").setLevel(logging.WARNING)
    # One line for each request that waits would make a flood worse.
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
    logging.getLogger("alembic").setLevel(logging.WARNING)


class Application(Flask):
    """Flask, with failures logged by the rule that was asked, not by the address."""

    def log_exception(self, exc_info: Any) -> None:
        self.logger.error("failed: %s %s", request.method, rule(), exc_info=exc_info)


def attach(app: Flask) -> None:
    """Give every request an id, send it back, and write one line when it is answered."""

    @app.before_request
    def begin_call() -> None:
        g.began = datetime.now(UTC)

    @app.after_request
    def end_call(response: Response) -> Response:
        response.headers[HEADER] = request_id()
        if request.path not in QUIET:
            calls.info(
                "answered",
                extra={
                    "facts": {
                        "method": request.method,
                        "rule": rule(),
                        "status": response.status_code,
                        "ms": round(seconds() * 1000, 1),
                    }
                },
            )
        return response


def request_id() -> str:
    """Return the id of this request: the front server's where one is trusted, else our own."""
    known: str | None = g.get("request_id")
    if known is None:
        given = request.headers.get(HEADER, "")
        trusted = current_app.config.get("TRUSTED_PROXY") and GIVEN.fullmatch(given)
        known = g.request_id = given if trusted else uuid.uuid4().hex
    return known


def rule() -> str:
    """Return the rule of this request's address; it names nothing and nobody."""
    return request.url_rule.rule if request.url_rule else "none"


def seconds() -> float:
    """Return how long this request has been worked on [s]."""
    began: datetime = g.get("began") or datetime.now(UTC)
    return (datetime.now(UTC) - began).total_seconds()
