"""Something else at the depot's address: a portal, a refusing depot, a broken one."""

from __future__ import annotations

import http.server
import json
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlsplit

from webapp.publish.keys import KeyFile
from webapp.publish.service import prove, signed_empty

#: Status, heads and body for a request.
Reply = tuple[int, dict[str, str], bytes]
#: Called with method, path with query, and the body that came.
Answer = Callable[[str, str, bytes], Reply]

PORTAL_PAGE = b"<html><body>Accept the terms to go on</body></html>"
#: The depot's own mark is on each of its answers; a portal's lack it.
JSON = {"Content-Type": "application/json", "X-Step-In-Hand": "1"}
PROBLEM = JSON | {"Content-Type": "application/problem+json"}


def html_200(_method: str, _path: str, _body: bytes) -> Reply:
    return 200, {"Content-Type": "text/html"}, PORTAL_PAGE


def redirect_302(_method: str, path: str, _body: bytes) -> Reply:
    if path == "/portal":
        return html_200("GET", path, b"")
    return 302, {"Location": "/portal"}, b""


def network_511(_method: str, _path: str, _body: bytes) -> Reply:
    return 511, {"Content-Type": "text/html"}, PORTAL_PAGE


def depot_that(answers_outbox: Callable[[list[Any]], Reply], data: Path) -> Answer:
    """A depot that answers its ping as it should, proves itself, and the outbox as given.

    It has the key of the depot in the data folder: a tablet gives its rows to no other.
    """

    def answer(_method: str, path: str, body: bytes) -> Reply:
        now = "2026-11-25T06:00:00+00:00"
        if path.startswith("/api/ping"):
            nonce = parse_qs(urlsplit(path).query)["n"][0]
            return 200, JSON, json.dumps({"n": nonce, "server_time": now}).encode()
        if path.startswith("/api/proof"):
            key = KeyFile(data).load()
            assert key is not None
            nonce = parse_qs(urlsplit(path).query)["n"][0]
            signed = prove(signed_empty(key), key, nonce, datetime.now(UTC))
            return 200, JSON, json.dumps(vars(signed)).encode()
        if path == "/api/outbox":
            return answers_outbox(json.loads(body)["items"])
        return 503, {"Content-Type": "text/plain"}, b""

    return answer


def unknown_tablet(_items: list[Any]) -> Reply:
    body = {"type": "about:blank", "title": "Unauthorized", "status": 401, "code": "unknown"}
    return 401, PROBLEM, json.dumps(body).encode()


def refuse_all(items: list[Any]) -> Reply:
    nothing: dict[str, Any] = {"server_no": None, "received_at": None}
    why = {"result": "rejected", "code": "invalid", "errors": {"found": ["not known"]}}
    results = [{"id": item["id"], **nothing, **why} for item in items]
    answer = {"server_time": "2026-11-25T06:00:00+00:00", "results": results}
    return 200, JSON, json.dumps(answer).encode()


@contextmanager
def stand_in(port: int, answer: Answer) -> Iterator[list[str]]:
    """Answer on this port for the length of a block; gives the paths that were asked."""
    asked: list[str] = []

    class Handler(http.server.BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            asked.append(self.path)
            body = self.rfile.read(int(self.headers.get("Content-Length") or 0))
            status, heads, content = answer(self.command, self.path, body)
            self.send_response(status)
            for name, value in heads.items():
                self.send_header(name, value)
            self.send_header("Content-Length", str(len(content)))
            self.end_headers()
            self.wfile.write(content)

        do_POST = do_GET

        def log_message(self, *_: object) -> None:
            pass

    server = http.server.ThreadingHTTPServer(("127.0.0.1", port), Handler)
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.05})
    thread.start()
    try:
        yield asked
    finally:
        server.shutdown()
        server.server_close()
        thread.join()
