"""The line between tablet and depot, in a test's hands: passes, holds, cuts or is dead.

The tablet has the line's address for the depot's. Requests are passed on one by one, each on
a connection of its own; what is done to them depends on their path.
"""

from __future__ import annotations

import contextlib
import socket
import threading
from dataclasses import dataclass, field

from tests.support.cutting_proxy import read_request

DEADLINE_S = 30.0


@dataclass
class Fault:
    """What happens to requests whose path begins so; `reached` is set when it happens.

    `stage` is "request" (never reaches the depot) or "answer" (does, but no answer returns);
    then the line is silent until `over`, or at once cut after `keep` bytes of the answer.
    """

    path: str
    stage: str = "answer"
    keep: int | None = None
    after: int = 0
    reached: threading.Event = field(default_factory=threading.Event)
    over: threading.Event = field(default_factory=threading.Event)

    def wait(self) -> None:
        assert self.reached.wait(DEADLINE_S), f"nothing asked for {self.path}"


class Line:
    """Listens on a port of its own; `depot` is the port behind it, 0 when there is none."""

    def __init__(self, port: int) -> None:
        self.depot = 0
        self.seen: list[str] = []
        self._fault: Fault | None = None
        self._listener = socket.create_server(("127.0.0.1", port), backlog=128)
        self.port = self._listener.getsockname()[1]
        threading.Thread(target=self._accept, daemon=True).start()

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def fault(
        self, path: str, stage: str = "answer", keep: int | None = None, after: int = 0
    ) -> Fault:
        """Plant a fault, after so many requests of its kind went well."""
        self.clear()
        self._fault = Fault(path, stage, keep, after)
        return self._fault

    def clear(self) -> None:
        """Pass everything from now on; what is held is dropped."""
        if self._fault:
            self._fault.over.set()
        self._fault = None

    def close(self) -> None:
        self.clear()
        # A thread that is accepting keeps a listener open until it is shut down.
        with contextlib.suppress(OSError):
            self._listener.shutdown(socket.SHUT_RDWR)
        self._listener.close()

    def _accept(self) -> None:
        while True:
            try:
                client, _ = self._listener.accept()
            except OSError:
                return
            threading.Thread(target=self._serve, args=(client,), daemon=True).start()

    def _serve(self, client: socket.socket) -> None:
        with client, contextlib.suppress(OSError):
            client.settimeout(DEADLINE_S)
            request = read_request(client)
            if request is None:
                return
            path = request.split(b" ", 2)[1].decode()
            self.seen.append(path)
            fault = self._struck(path)
            if fault and fault.stage == "request":
                return self._hold(fault)
            answer = self._pass_on(request)
            if not fault:
                client.sendall(answer)
            elif fault.keep is None:
                self._hold(fault)
            else:
                client.sendall(answer[: fault.keep])
                fault.reached.set()

    def _struck(self, path: str) -> Fault | None:
        fault = self._fault
        if fault is None or not path.startswith(fault.path):
            return None
        fault.after -= 1
        return fault if fault.after < 0 else None

    def _hold(self, fault: Fault) -> None:
        fault.reached.set()
        fault.over.wait(DEADLINE_S)

    def _pass_on(self, request: bytes) -> bytes:
        with socket.create_connection(("127.0.0.1", self.depot)) as upstream:
            upstream.settimeout(DEADLINE_S)
            upstream.sendall(request)
            return b"".join(iter(lambda: upstream.recv(65536), b""))
