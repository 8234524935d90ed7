"""The tablet's real outbox, run by deno and told over lines of JSON what happens to it."""

from __future__ import annotations

import contextlib
import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent
STATIC = HERE.parents[1] / "static"


class ProgramEnded(Exception):
    """The tablet's program itself has a fault; that is no finding about the outbox."""


class Tablet:
    """One deno process; `static` is the folder whose code it runs."""

    def __init__(self, static: Path = STATIC) -> None:
        self._folder = tempfile.TemporaryDirectory(prefix="sih-machine-")
        places = {(static / "data/idb.js").as_uri(): (HERE / "memory.js").as_uri()}
        names = Path(self._folder.name) / "map.json"
        names.write_text(json.dumps({"imports": places}))
        deno = Path(sys.executable).with_name("deno")
        assert deno.exists(), "no deno beside python: pip install -e '.[test]'"
        self._process = subprocess.Popen(
            [
                *(str(deno), "run", "--no-check", "--no-remote", "--allow-read", "--quiet"),
                *("--import-map", str(names), str(HERE / "tablet.js"), static.as_uri() + "/"),
            ],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            env={**os.environ, "DENO_NO_UPDATE_CHECK": "1", "NO_COLOR": "1"},
        )

    def tell(self, cmd: str, **how: Any) -> dict[str, Any]:
        """Do one thing, wait until nothing goes on by itself, return how all stands."""
        assert self._process.stdin and self._process.stdout
        try:
            self._process.stdin.write(json.dumps({"cmd": cmd, **how}) + "\n")
            self._process.stdin.flush()
        except BrokenPipeError as error:
            raise ProgramEnded(f"before {cmd} {how}") from error
        line = self._process.stdout.readline()
        if not line:
            raise ProgramEnded(f"at {cmd} {how}")
        answer: dict[str, Any] = json.loads(line)
        return answer

    def close(self) -> None:
        assert self._process.stdin and self._process.stdout
        with contextlib.suppress(BrokenPipeError):
            self._process.stdin.close()
        self._process.wait(10)
        self._process.stdout.close()
        self._folder.cleanup()
