"""Connections of the server without a front: none may hold it up, however many there are.

waitress has one deadline, for connections on which nothing happens. Here are those it
lacks: for the head and the body of a request, and for an answer that is not read. A request
that comes together with others is answered alone and the connection closed (RFC 9112, 9.3.2,
lets a client send the rest again): no thread ever waits for a reader between two answers.
When the server is full, whoever has most connections loses the oldest idle one, so that
somebody new gets in. The figures are own choices, no source.
"""

from __future__ import annotations

import ipaddress
import sys
import time
from collections import Counter
from collections.abc import Callable
from contextlib import suppress
from typing import Any

from waitress.adjustments import Adjustments
from waitress.channel import HTTPChannel
from waitress.server import TcpWSGIServer
from waitress.task import ThreadedTaskDispatcher

if sys.platform != "win32":
    import resource

#: Seconds for the head of a request, for its body, for an answer of which nothing is read,
#: and for a whole answer. A tablet at the edge of coverage sends 256 KiB in 90 s at 3 kB/s.
HEAD_S, BODY_S, STALLED_S, ANSWER_S = 10.0, 90.0, 30.0, 900.0
LOOK_EVERY_S = 1.0
#: Beyond this the oldest idle connection goes; fewer where the system gives fewer files.
MOST_CONNECTIONS = 2000
FILES_BESIDE = 256
AT_A_TURN = 64
#: Asked by who watches the server: it must answer while everything else waits.
OWN_THREAD = "/health"
WORDS = b"Only the depot's front server is answered here. Use the depot's own address.\n"
NOT_THE_FRONT = (
    b"HTTP/1.1 403 Forbidden\r\nContent-Type: text/plain; charset=utf-8\r\n"
    b"Connection: close\r\nContent-Length: %d\r\n\r\n%s" % (len(WORDS), WORDS)
)


class Channel(HTTPChannel):  # type: ignore[misc]
    """One connection, with the times by which its deadlines are held."""

    request: Any = None

    def __init__(self, *args: Any, **more: Any) -> None:
        self.request_began = self.answer_began = self.sent_at = time.monotonic()
        super().__init__(*args, **more)

    @property
    def idle(self) -> bool:
        """Whether nothing of it is being worked on, nor is it closing."""
        return not self.requests and not self.will_close

    # A closed socket's number may be another's by the time that the loop has asked for it.

    def readable(self) -> bool:
        return bool(self.connected and super().readable())

    def writable(self) -> bool:
        return bool(self.connected and super().writable())

    def received(self, data: bytes) -> bool:
        """Read on; of several requests at once only the first is taken."""
        with self.requests_lock:
            if self.will_close or self.close_when_flushed or not data:
                return False
            while data and not self.requests:
                if self.request is None:
                    self.request = self.parser_class(self.adj)
                    self.request_began = time.monotonic()
                data = data[self.request.received(data) :]
                self._continue_if_asked()
                if self.request.completed:
                    self._take(alone=not data.strip(b"\r\n"))
        return True

    def _continue_if_asked(self) -> None:
        asked = self.request.expect_continue and self.request.headers_finished
        if asked and not self.sent_continue:
            self.send_continue()

    def _take(self, *, alone: bool) -> None:
        request, self.request, self.sent_continue = self.request, None, False
        if request.empty:
            return
        if not alone:
            request.headers["CONNECTION"] = "close"
        self.answer_began = time.monotonic()
        self.requests.append(request)
        self.server.add_task(self)

    def write_soon(self, data: bytes) -> int:
        """Note when something begins to wait for its reader."""
        if not self.total_outbufs_len:
            self.sent_at = time.monotonic()
        return int(super().write_soon(data))

    def _flush_some(self, do_close: bool = True) -> bool:
        sent = bool(super()._flush_some(do_close=do_close))
        if sent:
            self.sent_at = time.monotonic()
        return sent

    def overdue(self, now: float) -> str | None:
        """Say which deadline has passed, if one has."""
        if self.total_outbufs_len:
            if now - self.sent_at > STALLED_S or now - self.answer_began > ANSWER_S:
                return "not read"
        elif self.request is not None and not self.requests:
            waited = now - self.request_began
            if waited > (BODY_S if self.request.headers_finished else HEAD_S):
                return "body" if self.request.headers_finished else "head"
        return None


class Server(TcpWSGIServer):  # type: ignore[misc]
    """waitress' server with deadlines, and a thread kept for who watches it."""

    channel_class = Channel

    def __init__(
        self,
        application: Any,
        *,
        only_from: str | None = None,
        most: int = MOST_CONNECTIONS,
        closed: Callable[[str], None] = lambda why: None,
        **settings: Any,
    ) -> None:
        # Our own limit acts first: at its own, waitress stops answering.
        adj = Adjustments(connection_limit=most + FILES_BESIDE, **settings)
        self._most, self._closed = most, closed
        self._only_from = None if only_from is None else ipaddress.ip_address(only_from)
        self._next_look = 0.0
        self._watching = ThreadedTaskDispatcher()
        self._watching.set_thread_count(1)
        # Of several addresses of one name the first of IPv4, as `localhost` is read.
        listen = min(adj.listen, key=lambda info: int(info[0]))
        super().__init__(application, map={}, adj=adj, sockinfo=listen)

    def add_task(self, task: Channel) -> None:
        """Queue a request, apart from all others if it asks how the server is."""
        mine = task.requests[0].path == OWN_THREAD
        (self._watching if mine else self.task_dispatcher).add_task(task)

    def readable(self) -> bool:
        """Called at every turn of the loop: look at the deadlines once a second."""
        now = time.monotonic()
        if now >= self._next_look:
            self._next_look = now + LOOK_EVERY_S
            for channel in list(self.active_channels.values()):
                why = channel.overdue(now)
                if why:
                    self._closed(why)
                    channel.handle_close()
        return bool(super().readable())

    def handle_accept(self) -> None:
        """Take in those that wait; where there is no room, make some.

        Many at a turn of the loop: each turn asks every open connection, and in a flood
        somebody new would wait for a turn of everybody before them.
        """
        for _ in range(AT_A_TURN):
            try:
                accepted = self.accept()
                if accepted is None:
                    return
                self.set_socket_options(accepted[0])
            except OSError:  # gone before it was looked at
                continue
            self._take_in(*accepted)

    def _take_in(self, connection: Any, address: Any) -> None:
        if self._only_from and ipaddress.ip_address(address[0]) != self._only_from:
            self._turn_away(connection)
            return
        if len(self.active_channels) >= self._most:
            self._make_room()
        self.channel_class(self, connection, address, self.adj, map=self._map)

    def _turn_away(self, connection: Any) -> None:
        self._closed("not the front")
        with suppress(OSError):
            connection.send(NOT_THE_FRONT)
        connection.close()

    def _make_room(self) -> None:
        """Close the oldest idle connection of the address that has most."""
        idle = [one for one in self.active_channels.values() if one.idle]
        if not idle:
            return
        by_address = Counter(one.addr[0] for one in idle)
        most = by_address.most_common(1)[0][0]
        mine = (one for one in idle if one.addr[0] == most)
        # At the next turn of the loop: in this one its number is still asked for.
        min(mine, key=lambda one: one.creation_time).will_close = True
        self._closed("full")

    def run(self) -> None:
        """Serve until the loop is left, then finish what is in flight."""
        super().run()
        self._watching.shutdown()


def room_for_connections() -> int:
    """Let this process open as many files as it may; return how many connections fit."""
    if sys.platform == "win32":
        return MOST_CONNECTIONS
    wanted = MOST_CONNECTIONS + 2 * FILES_BESIDE
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    if soft != resource.RLIM_INFINITY and soft < wanted:
        soft = wanted if hard == resource.RLIM_INFINITY else min(wanted, hard)
        resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))
        return max(FILES_BESIDE, soft - 2 * FILES_BESIDE)
    return MOST_CONNECTIONS
