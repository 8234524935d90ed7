"""The one error shape, held against any answer."""

from __future__ import annotations

import re
from typing import Any

from webapp.plain.agreed import MARK, PROTOCOL
from webapp.web.security import HEADERS


def assert_problem(answer: Any, status: int, code: str | None = None) -> dict[str, Any]:
    """The answer is problem+json with all its members and no word of the code inside."""
    assert answer.status_code == status, answer.text
    assert answer.headers["Content-Type"] == "application/problem+json"
    body: dict[str, Any] = answer.get_json()
    assert (
        {"type", "title", "status", "detail", "code"}
        <= set(body)
        <= {*("type", "title", "status", "detail", "code", "errors", "current")}
    )
    assert body["status"] == status
    assert re.fullmatch(r"[a-z_0-9]+", body["code"])
    assert body["detail"].strip()
    assert "Traceback" not in answer.text and "SELECT" not in answer.text
    if code is not None:
        assert body["code"] == code
    assert_headers(answer)
    return body


def assert_headers(answer: Any) -> None:
    """R59: these stand on every answer, errors and files included."""
    for name, value in HEADERS.items():
        assert answer.headers.getlist(name) == [value], name
    assert answer.headers.getlist(MARK) == [PROTOCOL]
    policy = answer.headers["Content-Security-Policy"]
    for part in (
        *("default-src 'self'", "object-src 'none'", "base-uri 'none'"),
        "frame-ancestors 'none'",
    ):
        assert part in policy
    assert "unsafe" not in policy
