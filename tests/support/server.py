"""The real server as a subprocess that a test can start, kill, freeze and start again."""

from __future__ import annotations

import os
import re
import signal
import sqlite3
import subprocess
import sys
import time
import urllib.request
from contextlib import closing
from pathlib import Path
from typing import Any

READY = re.compile(r"http://127\.0\.0\.1:(\d+)")
DEADLINE_S = 30.0


class Server:
    """Waitress on a free port with a data folder of its own.

    Use as a context manager, or start() and stop(). After kill() or stop(), start() comes
    back on the same port with the same data. `command` replaces the program, for tests that
    plant a fault; it is called with `TASK --port P --data D`.
    """

    def __init__(
        self,
        data: Path,
        *,
        demo: bool = True,
        env: dict[str, str] | None = None,
        command: list[str] | None = None,
        task: str | None = None,
    ) -> None:
        self.data = data
        self.port = 0
        self.log_path = data / "server.log"
        # A demo of what is in the folder; in service it must be asked for with `demo=False`.
        as_demo = ["demo", "--no-lines", "--no-samples"] if demo else ["serve"]
        self._task = [task] if task else as_demo
        self._command = command or [sys.executable, "-m", "webapp.commands.cli"]
        self._env = {**os.environ, **(env or {})}
        self._process: subprocess.Popen[bytes] | None = None

    def __enter__(self) -> Server:
        return self.start()

    def __exit__(self, *_error: object) -> None:
        self.stop()

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    @property
    def pid(self) -> int:
        assert self._process is not None, "the server is not started"
        return self._process.pid

    @property
    def database(self) -> Path:
        return self.data / "step-in-hand.sqlite3"

    @property
    def running(self) -> bool:
        return self._process is not None and self._process.poll() is None

    def start(self) -> Server:
        """Start and wait until it listens; on failure show what it printed."""
        assert not self.running, "the server is running already"
        # In service a data folder that others may look into is refused.
        self.data.mkdir(mode=0o700, parents=True, exist_ok=True)
        seen = len(self.log())
        arguments = [*self._task, "--port", str(self.port), "--data", str(self.data)]
        with self.log_path.open("ab") as log:
            self._process = subprocess.Popen(
                [*self._command, *arguments], stdout=log, stderr=log, env=self._env
            )
        self.port = self._wait_for_port(seen)
        return self

    def kill(self) -> None:
        """SIGKILL: no goodbye, as when the machine's process is taken away."""
        self._end(signal.SIGKILL)

    def stop(self) -> None:
        """SIGTERM, and SIGKILL if that does not end it; does nothing when not running."""
        self.thaw()
        self._end(signal.SIGTERM)

    def freeze(self) -> None:
        """SIGSTOP: connections are accepted by the system and never answered."""
        os.kill(self.pid, signal.SIGSTOP)

    def thaw(self) -> None:
        if self.running:
            os.kill(self.pid, signal.SIGCONT)

    def wait_until_gone(self) -> int:
        """Wait for a server that ends itself; return its exit code."""
        assert self._process is not None
        return self._process.wait(DEADLINE_S)

    def log(self) -> str:
        return self.log_path.read_text("utf-8", "replace") if self.log_path.exists() else ""

    def tablet(self) -> str:
        """The cookie of a tablet that opened the app just now: a demo enrols it."""
        with urllib.request.urlopen(f"{self.url}/", timeout=DEADLINE_S) as answer:
            return str(answer.headers["Set-Cookie"]).split(";")[0]

    def rows(self, query: str, *parameters: Any) -> list[tuple[Any, ...]]:
        """Ask the SQLite file directly, past the server."""
        with closing(sqlite3.connect(self.database, timeout=15)) as file:
            return file.execute(query, parameters).fetchall()

    def count(self, table: str = "report") -> int:
        return int(self.rows(f"SELECT count(*) FROM {table}")[0][0])

    def _wait_for_port(self, seen: int) -> int:
        deadline = time.monotonic() + DEADLINE_S
        while time.monotonic() < deadline:
            found = READY.search(self.log(), seen)
            if found:
                return int(found[1])
            if not self.running:
                break
            time.sleep(0.02)
        self._end(signal.SIGKILL)
        raise AssertionError(f"the server did not start:\n{self.log()[seen:]}")

    def _end(self, how: signal.Signals) -> None:
        if self._process is None:
            return
        if self.running:
            self._process.send_signal(how)
        try:
            self._process.wait(10)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait(10)
