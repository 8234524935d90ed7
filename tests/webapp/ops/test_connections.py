"""The server without a front: nobody who is slow, many or silent keeps others out."""

from __future__ import annotations

import http.client
import json
import re
import socket
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing
from pathlib import Path
from typing import Any

import pytest

from tests.support.reports import CHANGE
from tests.support.server import Server

SECRET = "0123456789abcdef0123456789abcdef"
#: Deadlines short enough to see; the program is otherwise as it is served.
QUICK = """
import sys
from webapp.commands import cli, connections
connections.HEAD_S, connections.BODY_S, connections.STALLED_S = 1.0, 2.0, 1.5
connections.LOOK_EVERY_S = 0.2
{more}
sys.exit(cli.main())
"""


@pytest.fixture
def serve(tmp_path: Path) -> Iterator[Callable[..., Server]]:
    with ExitStack() as stack:

        def start(more: str = "", **env: str) -> Server:
            program = tmp_path / "quick.py"
            program.write_text(QUICK.format(more=more))
            data = tmp_path / "data"
            data.mkdir(mode=0o700, exist_ok=True)
            given = {"STEP_IN_HAND_SECRET_KEY": SECRET, **env}
            command = [sys.executable, str(program)]
            return stack.enter_context(Server(data, demo=False, env=given, command=command))

        yield start


def connected(server: Server) -> socket.socket:
    return socket.create_connection(("127.0.0.1", server.port), timeout=20)


def health(server: Server) -> tuple[int, float]:
    """Status of /health, and how long it took [s]."""
    began = time.monotonic()
    with closing(http.client.HTTPConnection("127.0.0.1", server.port, timeout=20)) as asked:
        asked.request("GET", "/health")
        answer = asked.getresponse()
        answer.read()
        return answer.status, time.monotonic() - began


def ended(one: socket.socket, within: float) -> bool:
    """Whether the server closes a connection in time."""
    one.settimeout(within)
    try:
        return one.recv(1) == b""
    except ConnectionResetError:
        return True
    except TimeoutError:
        return False


def closed(server: Server) -> dict[str, float]:
    """Why connections were closed, by the server's own figures."""
    with urllib.request.urlopen(f"{server.url}/metrics", timeout=20) as answer:
        text = answer.read().decode()
    found = re.findall(r'connections_closed_total\{why="([^"]*)"\} (\S+)', text)
    return {why: float(n) for why, n in found}


@pytest.mark.parametrize(
    ("sent", "why"),
    [
        (b"GET /api/ping?n=1 HTTP/1.1\r\nHost: 127.0.0.1\r\n", "head"),
        (
            b"POST /api/outbox HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Step-In-Hand: 1\r\n"
            b"Content-Type: application/json\r\nContent-Length: 5000\r\n\r\n{",
            "body",
        ),
    ],
)
def test_a_request_that_does_not_end_is_dropped(
    serve: Callable[..., Server], sent: bytes, why: str
) -> None:
    server = serve()
    with connected(server) as slow:
        slow.sendall(sent)
        assert not ended(slow, 0.5), "not at once"
        assert ended(slow, 10)
    assert closed(server)[why] == 1


def test_a_body_in_time_is_taken_in(serve: Callable[..., Server]) -> None:
    server = serve()
    with connected(server) as slow:
        slow.sendall(
            b"POST /api/enrol HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Step-In-Hand: 1\r\n"
            b"Content-Type: application/json\r\nContent-Length: 15\r\n\r\n"
        )
        for byte in b'{"code": "AA" }':
            time.sleep(0.05)
            slow.sendall(bytes([byte]))
        assert b"403" in slow.recv(4000).splitlines()[0]


BIG = """
from flask import Blueprint, Response
import webapp
made = webapp.create_app
def create_app(config):
    app = made(config)
    @app.get("/big")
    def big():
        return Response((b"x" * 65536 for _ in range(1000)), content_type="text/plain")
    return app
webapp.create_app = create_app
"""


def test_nine_who_do_not_read_keep_nobody_out(serve: Callable[..., Server]) -> None:
    """Pipelined, and one answer too large for any buffer on each of nine connections."""
    server = serve(BIG)
    with ExitStack() as stack:
        silent = [stack.enter_context(connected(server)) for _ in range(9)]
        for one in silent:
            one.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
            one.sendall(b"GET /big HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n" * 40)
        time.sleep(0.5)
        status, seconds = health(server)
        assert status == 200 and seconds < 1.0, seconds
        print(f"/health beside nine silent readers: {seconds * 1000:.0f} ms")
        deadline = time.monotonic() + 20
        while closed(server).get("not read", 0) < 9 and time.monotonic() < deadline:
            time.sleep(0.3)
        assert closed(server)["not read"] == 9
    with urllib.request.urlopen(f"{server.url}/api/ping?n=after", timeout=5) as answer:
        assert json.load(answer)["n"] == "after"


def test_requests_sent_at_once_are_answered_alone(serve: Callable[..., Server]) -> None:
    server = serve()
    ask = b"GET /api/ping?n=%d HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n"
    with connected(server) as eager:
        eager.sendall(ask % 1 + ask % 2 + ask % 3)
        got = b""
        while more := eager.recv(65536):
            got += more
    assert got.count(b"HTTP/1.1 200") == 1 and b'"n":"1"' in got.replace(b" ", b"")
    assert b"Connection: close" in got
    with connected(server) as polite:
        for n in range(3):
            polite.sendall(ask % n)
            got = b""
            while b"server_time" not in got:
                got += polite.recv(65536)
            assert b"200 OK" in got, "one after the other it stays open"


def test_a_thousand_and_ten_slow_uploads_keep_nobody_out(serve: Callable[..., Server]) -> None:
    server = serve("connections.BODY_S = 60.0")
    head = (
        b"POST /api/outbox HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Step-In-Hand: 1\r\n"
        b"Content-Type: application/json\r\nContent-Length: 200000\r\n\r\n{"
    )
    with ExitStack() as stack:
        for _ in range(1010):
            stack.enter_context(connected(server)).sendall(head)
        first, then = health(server), sorted(health(server)[1] for _ in range(9))[4]
        print(
            f"/health beside 1,010 slow uploads: {first[1] * 1000:.0f}, {then * 1000:.0f} ms"
        )
        assert first[0] == 200 and then < 1.0, (first, then)


def test_a_full_server_lets_somebody_new_in(serve: Callable[..., Server]) -> None:
    server = serve("connections.room_for_connections = lambda: 20; connections.HEAD_S = 60.0")
    with ExitStack() as stack:
        slow = [stack.enter_context(connected(server)) for _ in range(40)]
        for one in slow:
            one.sendall(b"GET /")
        assert health(server)[0] == 200
        assert ended(slow[0], 5), "the oldest went"
        assert not ended(slow[-1], 0.3), "the newest stayed"
    assert closed(server)["full"] >= 20


def test_another_peer_than_the_front_is_told_so(serve: Callable[..., Server]) -> None:
    server = serve(
        STEP_IN_HAND_TRUSTED_PROXY="127.0.0.2", STEP_IN_HAND_PUBLIC_HOST="depot.example"
    )
    with pytest.raises(urllib.error.HTTPError) as refused:
        urllib.request.urlopen(f"{server.url}/health", timeout=5)
    with refused.value as told:
        assert told.code == 403
        assert b"front server" in told.read()
    with closing(socket.socket()) as front:
        front.bind(("127.0.0.2", 0))
        front.connect(("127.0.0.1", server.port))
        front.sendall(b"GET /health HTTP/1.1\r\nHost: depot.example\r\n\r\n")
        assert b"200 OK" in front.recv(4000)


def asked(server: Server, host: str, **heads: str) -> tuple[int, dict[str, Any]]:
    with closing(http.client.HTTPConnection("127.0.0.1", server.port, timeout=5)) as front:
        front.request("GET", "/api/ping?n=1", headers={"Host": host, **heads})
        answer = front.getresponse()
        return answer.status, json.load(answer)


def test_no_other_host_than_the_public_one_is_answered(serve: Callable[..., Server]) -> None:
    server = serve(
        STEP_IN_HAND_TRUSTED_PROXY="127.0.0.1", STEP_IN_HAND_PUBLIC_HOST="depot.example"
    )
    assert asked(server, "depot.example")[0] == 200
    for host in ("127.0.0.1", "evil.example", "depot.example.evil.example", "localhost"):
        status, said = asked(server, host)
        assert (status, said["code"]) == (400, "bad_host")
        assert "STEP_IN_HAND_PUBLIC_HOST" in said["detail"]
    forwarded = {"X-Forwarded-Host": "evil.example", "X-Forwarded-For": "203.0.113.7"}
    assert asked(server, "depot.example", **forwarded)[0] == 400


def test_one_address_may_not_ask_without_end(serve: Callable[..., Server]) -> None:
    server = serve("from webapp.web import limits; limits.ADDRESS = limits.Rate(10, 0.5)")
    statuses = [asked(server, "127.0.0.1")[0] for _ in range(14)]
    assert statuses[:10] == [200] * 10 and set(statuses[10:]) <= {200, 429}
    assert statuses.count(429) >= 3
    assert health(server)[0] == 200


def test_the_mark_of_our_answers_is_on_a_refusal_too(serve: Callable[..., Server]) -> None:
    server = serve("from webapp.web import limits; limits.ADDRESS = limits.Rate(1, 0.1)")
    asked(server, "127.0.0.1")
    call = urllib.request.Request(f"{server.url}/api/ping?n=1", headers=CHANGE)
    with pytest.raises(urllib.error.HTTPError) as refused:
        urllib.request.urlopen(call, timeout=5)
    with refused.value as told:
        assert told.code == 429
        assert int(told.headers["Retry-After"]) >= 1
        assert told.headers["X-Step-In-Hand"] == "1"
