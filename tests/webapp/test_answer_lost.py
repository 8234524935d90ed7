"""R31: the report is stored but the answer is lost; sending again is safe and says so.

The real server in a process of its own, killed or cut off. A tablet that hears nothing must
keep its row (R1), so what matters here is that the repeat is answered as a duplicate.
"""

from __future__ import annotations

import http.client
import json
import os
import signal
import sqlite3
import sys
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from tests.support.cutting_proxy import cutting_proxy
from tests.support.reports import CHANGE, batch, item
from tests.support.server import Server

# What a client sees of an answer that did not come whole.
LOST = (http.client.HTTPException, OSError, json.JSONDecodeError)


def post(port: int, tablet: str, content: dict[str, Any]) -> dict[str, Any]:
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
    try:
        heads = {**CHANGE, "Content-Type": "application/json", "Cookie": tablet}
        connection.request("POST", "/api/outbox", json.dumps(content), heads)
        answer = connection.getresponse()
        assert answer.status == 200
        return dict(json.loads(answer.read()))
    finally:
        connection.close()


@pytest.fixture
def doomed(tmp_path: Path) -> Iterator[Server]:
    script = Path(__file__).parents[1] / "support" / "killed_after_commit.py"
    server = Server(
        tmp_path / "data",
        command=[sys.executable, str(script)],
        env={"SPENT": str(tmp_path / "spent"), "PYTHONPATH": str(Path(__file__).parents[2])},
    )
    with server:
        yield server


def test_r31_killed_between_commit_and_answer(doomed: Server) -> None:
    reports, tablet = batch(*(item(seq) for seq in range(1, 4))), doomed.tablet()
    with pytest.raises(LOST):
        post(doomed.port, tablet, reports)
    assert doomed.wait_until_gone() == -9
    doomed.start()
    assert doomed.count() == 3
    results = post(doomed.port, tablet, reports)["results"]
    assert [result["result"] for result in results] == ["duplicate"] * 3
    assert doomed.count() == 3


@pytest.mark.parametrize(
    "keep", [0, 1, 30, -200, -2, -1], ids=lambda keep: f"{keep} bytes get through"
)
def test_r31_the_answer_is_cut(server: Server, keep: int) -> None:
    """Before the headers, within them, within the body, at the last byte."""
    reports, tablet = batch(*(item(seq) for seq in range(1, 4))), server.tablet()
    with (
        cutting_proxy(server.port, keep) as port,
        pytest.raises(LOST),
    ):
        post(port, tablet, reports)
    assert server.count() == 3
    first = post(server.port, tablet, reports)["results"]
    second = post(server.port, tablet, reports)["results"]
    assert [result["result"] for result in first] == ["duplicate"] * 3
    assert first == second


def test_the_proxy_passes_everything_when_it_does_not_cut(server: Server) -> None:
    """The control: through the same proxy an uncut answer is a success."""
    with cutting_proxy(server.port, 1_000_000) as port:
        results = post(port, server.tablet(), batch(item()))["results"]
    assert [result["result"] for result in results] == ["created"]


def test_sigterm_lets_the_request_in_flight_finish(server: Server) -> None:
    """BROWSER.md trap 6: waitress alone drops what it is working on."""
    tablet = server.tablet()
    connection = http.client.HTTPConnection("127.0.0.1", server.port, timeout=10)
    with closing(sqlite3.connect(server.database, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")  # holds the request inside the server
        heads = {**CHANGE, "Content-Type": "application/json", "Cookie": tablet}
        connection.request("POST", "/api/outbox", json.dumps(batch(item())), heads)
        time.sleep(0.5)
        os.kill(server.pid, signal.SIGTERM)
        time.sleep(0.5)
        other.execute("COMMIT")
    answer = json.loads(connection.getresponse().read())
    connection.close()
    assert [result["result"] for result in answer["results"]] == ["created"]
    assert server.wait_until_gone() == 0
    assert server.count() == 1
