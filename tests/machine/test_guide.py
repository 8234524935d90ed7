"""The administrator's guide, typed on an empty machine: tests/support/machine.py says how."""

from __future__ import annotations

import http.client
import json
import re
import socket
import ssl
import time
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest

from tests.support.machine import NGINX, Machine
from tests.support.reports import CHANGE, batch, item

if NGINX is None:
    print("Left out: the administrator's guide, which needs nginx (apt-get install nginx).")
pytestmark = pytest.mark.skipif(NGINX is None, reason="nginx is not installed")
PASSWORD = "quiet brakes hold longer"
TOKEN = re.compile(r'name="csrf_token"[^>]*value="([^"]+)"')


class Https(http.client.HTTPSConnection):
    """The depot's front as a browser asks for it, from an address of choice."""

    def __init__(self, machine: Machine, source: str = "127.0.0.1") -> None:
        context = ssl.create_default_context(cafile=machine.certificate)
        super().__init__("depot.example", 443, context=context, timeout=30)
        self.port_here, self.source, self.known = machine.https, source, context

    def connect(self) -> None:
        place = ("127.0.0.1", self.port_here)
        plain = socket.create_connection(place, 30, (self.source, 0))
        self.sock = self.known.wrap_socket(plain, server_hostname="depot.example")


class Client:
    """Somebody with cookies."""

    def __init__(self, machine: Machine) -> None:
        self.machine, self.cookies = machine, dict[str, str]()

    def ask(self, method: str, path: str, body: Any = None, **heads: str) -> tuple[int, str]:
        one = Https(self.machine)
        given = {"Cookie": "; ".join(f"{k}={v}" for k, v in self.cookies.items()), **heads}
        one.request(method, path, body, given)
        answer = one.getresponse()
        text = answer.read().decode()
        for line in answer.headers.get_all("Set-Cookie") or []:
            assert "Secure" in line and "HttpOnly" in line
            name, _, value = line.split(";")[0].partition("=")
            self.cookies[name] = value
        one.close()
        return answer.status, text

    def post(self, path: str, content: Any) -> Any:
        heads = {**CHANGE, "Content-Type": "application/json"}
        return json.loads(self.ask("POST", path, json.dumps(content), **heads)[1])

    def submit(self, path: str, **fields: str) -> tuple[int, str]:
        found = TOKEN.search(self.ask("GET", path)[1])
        assert found, path
        form = urlencode({"csrf_token": found[1], **fields})
        heads = {"Content-Type": "application/x-www-form-urlencoded"}
        return self.ask("POST", path, form, **heads)


@pytest.fixture
def machine(tmp_path: Path) -> Iterator[Machine]:
    with Machine(tmp_path) as one:
        yield one


def set_up(machine: Machine, database: str | None = None) -> None:
    """Sections 1 to 4: from nothing to https."""
    for block in machine.blocks(1):
        machine.type(block)
    settings, postgres = machine.blocks(2)
    machine.type(settings)
    if database:
        (line,) = [one for one in postgres.splitlines() if one.startswith("echo")]
        machine.type(re.sub(r"=postgresql:[^']*'", f"={database}'", line))
    machine.write(3, "ini")
    for block in machine.blocks(3):
        machine.type(block)
    machine.write(4, "nginx")
    for block in machine.blocks(4):
        assert '"status":"ok"' in machine.type(block).replace(" ", "")


def tablet_by_sheet(machine: Machine) -> Client:
    """Section 5: the first account, a sheet of three codes, a tablet with one of them."""
    code = re.search(r"([A-Z0-9]{4}(?:-[A-Z0-9]{4})+)", machine.type(machine.blocks(5)[0]))
    assert code, machine.log()
    desk = Client(machine)
    typed = {"code": code[1], "login": "first", "password": PASSWORD, "again": PASSWORD}
    assert desk.submit("/desk/set-up", **typed)[0] == 302
    assert desk.submit("/desk/log-in", login="first", password=PASSWORD)[0] == 302
    status, page = desk.submit("/desk/tablets/sheet", names="Cab 1; A\nCab 2; A\nCab 3; B")
    codes = re.findall(r'class="secret">([^<]+)<', page)
    assert status == 200 and len(codes) == 3
    tablet = Client(machine)
    assert tablet.post("/api/enrol", {"code": codes[1]})["label"] == "Cab 2"
    assert "__Host-sih-tablet" in tablet.cookies
    return tablet


def send(tablet: Client, seq: int) -> str:
    sent: dict[str, Any] = tablet.post("/api/outbox", batch(item(seq)))
    return str(sent["results"][0]["result"])


def valid(tablet: Client) -> bool:
    return bool(json.loads(tablet.ask("GET", "/api/tablet")[1])["valid"])


def test_the_guide_on_one_file(machine: Machine) -> None:
    """Every section, roll-back included, with a tablet that is enrolled over https."""
    set_up(machine)
    tablet = tablet_by_sheet(machine)
    assert send(tablet, 1) == "created"
    data = machine.root / "var/lib/step-in-hand/data"
    for block in machine.blocks(6):
        machine.type(block)
    assert (machine.root / "var/lib/step-in-hand/tried/step-in-hand.sqlite3").is_file()
    assert (machine.root / "var/backups/step-in-hand/depot.zip").stat().st_mode & 0o077 == 0
    assert valid(tablet) and send(tablet, 2) == "created"
    upgrade, back = machine.blocks(7)
    machine.type(upgrade)
    assert valid(tablet) and send(tablet, 3) == "created"
    machine.type(back)
    assert valid(tablet), "enrolled before the upgrade, so after the roll-back too"
    assert send(tablet, 4) == "created"
    assert len(list(data.parent.glob("data-before-*"))) == 2, "nothing was thrown away"
    for block in machine.blocks(8):
        told = machine.type(block)
    calls = [json.loads(line) for line in told.splitlines() if line.startswith("{")]
    assert {one["rule"] for one in calls if "rule" in one} >= {"/api/outbox", "/desk/log-in"}
    front = (machine.root / "var/log/nginx/step-in-hand.log").read_text()
    (first, *_) = (one["request"] for one in calls if one.get("rule") == "/api/outbox")
    assert first in front and "127.0.0.1" not in front, "one id, no address"


@pytest.mark.postgres
def test_the_guide_on_postgresql_with_two_processes(
    machine: Machine, postgres_url: str
) -> None:
    set_up(machine, postgres_url.replace("+psycopg", ""))
    tablet = tablet_by_sheet(machine)
    assert [send(tablet, n) for n in range(1, 9)] == ["created"] * 8
    asked = [machine.root / f"log-{port}" for port in (machine.first, machine.second)]
    assert all('"/api/outbox"' in log.read_text() for log in asked), "both took some in"
    machine.type(machine.blocks(6)[0])


def quickest_health(machine: Machine) -> float:
    """The better of three answers of /health through the front [s]."""
    took = []
    for _ in range(3):
        one, began = Https(machine), time.monotonic()
        one.request("GET", "/health")
        assert one.getresponse().read().count(b"ok") == 4
        took.append(time.monotonic() - began)
        one.close()
    return min(took)


def test_behind_the_front_nobody_who_is_slow_keeps_others_out(machine: Machine) -> None:
    set_up(machine)
    head = (
        b"POST /api/outbox HTTP/1.1\r\nHost: depot.example\r\nX-Step-In-Hand: 1\r\n"
        b"Content-Type: application/json\r\nContent-Length: 200000\r\n\r\n{"
    )
    eager = b"GET /api/openapi.json HTTP/1.1\r\nHost: depot.example\r\n\r\n"
    with ExitStack() as stack:
        for n in range(1010):
            slow = Https(machine, f"127.0.1.{n % 10 + 1}")
            slow.connect()
            stack.callback(slow.close)
            slow.sock.sendall(head)
        uploads = quickest_health(machine)
        for n in range(9):
            silent = Https(machine, f"127.0.2.{n + 1}")
            silent.connect()
            stack.callback(silent.close)
            silent.sock.sendall(eager * 40)
        both = quickest_health(machine)
    print(f"/health by the front: {uploads * 1000:.0f} ms beside 1,010 slow uploads, "
          f"{both * 1000:.0f} ms with nine silent readers besides")  # fmt: skip
    assert max(uploads, both) < 1.0


def test_the_front_answers_for_its_own_name_alone(machine: Machine) -> None:
    set_up(machine)
    other = ssl.create_default_context(cafile=machine.certificate)
    with socket.create_connection(("127.0.0.1", machine.https), 10) as plain:
        with pytest.raises(ssl.SSLError):
            other.wrap_socket(plain, server_hostname="evil.example")
    forged = {"X-Forwarded-For": "203.0.113.9", "X-Forwarded-Host": "evil.example"}
    assert Client(machine).ask("GET", "/api/ping?n=1", **forged)[0] == 200
    with socket.create_connection(("127.0.0.1", machine.http), 10) as plain:
        plain.sendall(b"GET /x HTTP/1.0\r\n\r\n")
        assert b"https://depot.example/x" in plain.recv(4000)
