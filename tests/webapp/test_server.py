"""The real server: it starts, answers, ends politely and comes back with what it had."""

from __future__ import annotations

import json
import urllib.request

from tests.support.server import Server


def get(server: Server, path: str) -> dict:
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
