"""Mount the disk that forgets, cut its power, and see what is left."""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

PROGRAM = Path(__file__).with_name("forgetful_disk.py")
DEADLINE_S = 20.0


def why_not() -> str | None:
    """Say what this machine lacks for a file system of its own; None if nothing."""
    if not sys.platform.startswith("linux"):
        return "FUSE as these tests use it is found on Linux only"
    if not os.access("/dev/fuse", os.R_OK | os.W_OK):
        return "/dev/fuse cannot be opened (in a container: start it with --device /dev/fuse)"
    if not (shutil.which("fusermount3") or shutil.which("fusermount")):
        return "fusermount3 is missing (Debian: apt-get install fuse3 libfuse2)"
    try:
        import mfusepy  # noqa: F401
    except (ImportError, OSError) as error:
        return f"mfusepy does not load: {error} (Debian: apt-get install libfuse2)"
    return None


class Disk:
    """`path` is the mounted folder; after a cut, `store` is what was on the disk."""

    def __init__(self, root: Path) -> None:
        self.path, self.store = root / "mounted", root / "store"
        self.log = root / "disk.log"
        self.path.mkdir(parents=True)
        with self.log.open("wb") as log:
            self._process = subprocess.Popen(
                [sys.executable, str(PROGRAM), str(self.path), str(self.store)],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=log,
                text=True,
            )
        self._wait_until(self.path.is_mount)

    @property
    def alive(self) -> bool:
        return self._process.poll() is None

    def changes(self) -> int:
        """Count the changes and syncs until now."""
        return int(self._ask("count"))

    def sync(self) -> None:
        """Put all that is seen on the disk, as after a quiet minute."""
        assert self._ask("sync") == "synced"

    def watch(self) -> Path:
        """From now on keep what a cut at each moment would leave; see `moments`."""
        folder = self.path.parent / "moments"
        folder.mkdir()
        assert self._ask(f"watch {folder}") == "watching"
        return folder

    def cut(self, how: str = "none", seed: int = 0) -> None:
        with contextlib.suppress(BrokenPipeError):
            self._tell(f"cut {how} {seed}")
        self.wait()

    def wait(self) -> None:
        """Wait for the cut; the mounted folder gives errors from then on."""
        assert self._process.wait(DEADLINE_S) == 0, self.log.read_text()
        assert self.store.with_suffix(".cut").exists(), "the disk ended, but by no power cut"

    def close(self) -> None:
        if self.alive:
            self._process.kill()
            self._process.wait(DEADLINE_S)
        for pipe in (self._process.stdin, self._process.stdout):
            if pipe:
                with contextlib.suppress(OSError):
                    pipe.close()
        for command in (["fusermount3", "-uz"], ["fusermount", "-uz"], ["umount", "-l"]):
            if shutil.which(command[0]):
                subprocess.run([*command, str(self.path)], capture_output=True, check=False)
                return

    def _ask(self, line: str) -> str:
        self._tell(line)
        assert self._process.stdout
        return self._process.stdout.readline().strip()

    def _tell(self, line: str) -> None:
        assert self._process.stdin
        self._process.stdin.write(line + "\n")
        self._process.stdin.flush()

    def _wait_until(self, true: Callable[[], bool]) -> None:
        deadline = time.monotonic() + DEADLINE_S
        while not true():
            if not self.alive or time.monotonic() > deadline:
                self.close()
                raise AssertionError(f"the disk was not mounted: {self.log.read_text()}")
            time.sleep(0.02)


@contextmanager
def forgetful_disk(root: Path) -> Iterator[Disk]:
    """Mount it for the length of a block."""
    disk = Disk(root)
    try:
        yield disk
    finally:
        disk.close()
