"""The real server: it starts, answers, ends politely and comes back with what it had."""

from __future__ import annotations

import http.client
import json
import socket
import urllib.request
from typing import Any

import pytest

from tests.support.reports import CHANGE, batch, item
from tests.support.server import Server


def get(server: Server, path: str) -> dict[str, Any]:
    with urllib.request.urlopen(server.url + path, timeout=5) as answer:
        return json.load(answer)


def test_port_zero_prints_the_port_that_was_taken(server: Server) -> None:
    assert get(server, "/api/ping?n=x7")["n"] == "x7"


def test_a_killed_server_comes_back_on_the_same_port(server: Server) -> None:
    port = server.port
    server.kill()
    server.start()
    assert server.port == port
    assert get(server, "/api/ping?n=again")["n"] == "again"


def test_sigterm_ends_the_server_with_success(server: Server) -> None:
    server.stop()
    assert server.wait_until_gone() == 0


def post(server: Server, size: int, *, chunked: bool = False) -> tuple[int, str]:
    connection = http.client.HTTPConnection("127.0.0.1", server.port, timeout=10)
    content = json.dumps(batch(item())).ljust(size).encode()
    heads = {**CHANGE, "Content-Type": "application/json"}
    body = iter([content]) if chunked else content
    connection.request("POST", "/api/outbox", body, heads, encode_chunked=chunked)
    answer = connection.getresponse()
    answer.read()
    connection.close()
    return answer.status, answer.headers["Content-Type"]


def test_through_waitress_too_large_is_our_own_413(server: Server) -> None:
    """BROWSER.md: waitress reads the body first, so its own limit must be above ours."""
    assert post(server, 256 * 1024) == (200, "application/json")
    assert post(server, 256 * 1024 + 1) == (413, "application/problem+json")
    assert post(server, 1024 * 1024) == (413, "application/problem+json")
    assert post(server, 300 * 1024, chunked=True) == (413, "application/problem+json")


def test_idle_connections_keep_nobody_else_out(server: Server) -> None:
    """waitress stops answering at its own limit of 100; one depot has more tablets."""
    idle = [socket.create_connection(("127.0.0.1", server.port)) for _ in range(150)]
    try:
        assert get(server, "/api/ping?n=first")["n"] == "first"
    finally:
        for one in idle:
            one.close()


def test_a_frozen_server_answers_once_it_is_thawed(server: Server) -> None:
    server.freeze()
    try:
        with pytest.raises(TimeoutError):
            urllib.request.urlopen(f"{server.url}/api/ping?n=1", timeout=0.3)
    finally:
        server.thaw()
    assert get(server, "/api/ping?n=2")["n"] == "2"
