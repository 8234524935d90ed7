"""What a data folder keeps outside its database, so that no older copy of that takes it back.

In `depot/` of the folder: which depot it belongs to, the highest number ever given to a
report or a seal, and the ids of reports that were removed on request.
"""

from __future__ import annotations

import json
import os
import sys
import tempfile
import threading
import uuid
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from webapp.plain import ondisk

if sys.platform != "win32":
    import fcntl

PLACE = "depot"
IDENTITY, NUMBERS, REMOVED = "identity.json", "numbers.json", "removed.txt"


class FolderTrouble(Exception):
    """Nothing may be acknowledged now; the text says why and what to do at the server."""


@dataclass(frozen=True)
class Identity:
    """The depot of a folder; `joined` once its database is known to hold the same id."""

    name: uuid.UUID
    joined: bool


class DataFolder:
    """One data folder, and how its database file looked when the server began."""

    def __init__(self, data: Path, lite: Path | None) -> None:
        self.data, self.lite = data, lite
        self.path = data / PLACE
        # Set once folder and database were found to belong together.
        self.expected: uuid.UUID | None = None
        self.damage: str | None = None
        self._file: tuple[int, int] | None = None
        self._size = 0
        self._ready: dict[str, list[int]] = {}
        self._lock = threading.Lock()
        self._gone: tuple[object, frozenset[uuid.UUID]] = (None, frozenset())

    # Which depot it is

    def identity(self) -> Identity | None:
        """Return the id of this folder; None in one that was never given one."""
        found = self._json(IDENTITY)
        if found is None:
            return None
        try:
            return Identity(uuid.UUID(found["depot"]), bool(found["joined"]))
        except (KeyError, TypeError, ValueError, AttributeError) as error:
            raise self._unreadable(IDENTITY) from error

    def identify(self, name: uuid.UUID, *, joined: bool) -> None:
        self._write(IDENTITY, _text({"depot": str(name), "joined": joined}))

    # Whether the database is still the one that was begun with

    def watch(self, name: uuid.UUID) -> None:
        """From now on `trouble` compares with what is here now."""
        self.expected = name
        if self.lite is not None:
            found = self.lite.stat()
            self._file, self._size = (found.st_dev, found.st_ino), found.st_size

    def trouble(self, *, wrote: bool = False) -> str | None:
        """Say why what is written now, or was a moment ago, would be lost; None if not."""
        if self.expected is None:
            return None
        if self.damage:
            return self.damage
        try:
            known = self.identity()
        except FolderTrouble as error:
            return str(error)
        if known is None or known.name != self.expected:
            return (
                f"{self.path}: gone or changed under the running server. Stop the server, put "
                "the data folder back as it was, then start again."
            )
        return None if self.lite is None else self._file_trouble(self.lite, wrote)

    def _file_trouble(self, path: Path, wrote: bool) -> str | None:
        cure = "Stop the server, put the file back or restore a backup, then start again."
        try:
            # Only by name: to close a file of one's own here would drop SQLite's locks on it.
            found = path.stat()
        except OSError:
            return f"{path}: the database is gone under the running server. {cure}"
        if self._file != (found.st_dev, found.st_ino):
            return f"{path}: another file took its place under the running server. {cure}"
        if found.st_size < self._size:
            return f"{path}: was cut under the running server. {cure}"
        self._size = found.st_size
        # What was committed stands here first; the server holds it open, so it is there.
        if wrote and not path.with_name(f"{path.name}-wal").is_file():
            # What it held is lost, whatever comes in its place.
            self.damage = f"{path}-wal: taken away under the running server. {cure}"
        return self.damage

    # Numbers

    def number(self, kind: str, floor: int, ahead: int = 1) -> int:
        """Return a number that was never given before, whatever the database holds.

        ``floor`` is the highest that the database knows; ``ahead`` is how many more are
        likely to be asked for at once, so that they cost one write of the disk.
        """
        with self._lock:
            ready = [n for n in self._ready.get(kind, []) if n > floor]
            if not ready:
                ready = self._reserve(kind, floor, max(1, ahead))
            self._ready[kind] = ready[1:]
            return ready[0]

    def given(self, kind: str) -> int:
        """Return the highest number that was ever reserved."""
        return int((self._json(NUMBERS) or {}).get(kind, 0))

    def raise_to(self, numbers: Mapping[str, int]) -> None:
        """See that no number up to these is given again."""
        with self._lock, self._alone():
            known = self._json(NUMBERS) or {}
            highest = {kind: max(n, known.get(kind, 0)) for kind, n in numbers.items()}
            self._write(NUMBERS, _text({**known, **highest}))
            self._ready = {}

    def _reserve(self, kind: str, floor: int, count: int) -> list[int]:
        with self._alone():
            known = self._json(NUMBERS) or {}
            first = max(floor, int(known.get(kind, 0))) + 1
            self._write(NUMBERS, _text({**known, kind: first + count - 1}))
        return list(range(first, first + count))

    # What was removed on request

    def removed(self) -> frozenset[uuid.UUID]:
        """Return the ids that are not to come back."""
        path = self.path / REMOVED
        try:
            found = path.stat()
            mark = (found.st_mtime_ns, found.st_size, found.st_ino)
            if self._gone[0] != mark:
                names = path.read_text("ascii").split()
                self._gone = (mark, frozenset(uuid.UUID(name) for name in names))
            return self._gone[1]
        except FileNotFoundError:
            return frozenset()
        except (OSError, ValueError) as error:
            raise self._unreadable(REMOVED) from error

    def remove(self, names: Iterable[uuid.UUID]) -> None:
        """Note ids as removed, on the disk before this returns."""
        with self._lock, self._alone():
            every = sorted(str(one) for one in self.removed() | set(names))
            self._write(REMOVED, "".join(f"{one}\n" for one in every))

    def take_from(self, other: Path) -> None:
        """Take over what another copy of this folder knows of numbers and removals."""
        before = DataFolder(other, None)
        kinds = before._json(NUMBERS) or {}
        if kinds:
            self.raise_to({kind: int(n) for kind, n in kinds.items()})
        if gone := before.removed():
            self.remove(gone)

    # Files

    def _json(self, name: str) -> dict[str, Any] | None:
        try:
            return dict(json.loads((self.path / name).read_text("utf-8")))
        except (FileNotFoundError, NotADirectoryError):
            return None
        except (OSError, ValueError, TypeError) as error:
            raise self._unreadable(name) from error

    def _unreadable(self, name: str) -> FolderTrouble:
        return FolderTrouble(
            f"{self.path / name}: cannot be read, or is damaged. Put it back from a backup of "
            "the data folder, then start again."
        )

    def _write(self, name: str, text: str) -> None:
        """Write beside, then put in place in one step: the file is whole or as it was."""
        try:
            made = not self.path.is_dir()
            self.path.mkdir(mode=0o700, parents=True, exist_ok=True)
            handle, beside = tempfile.mkstemp(dir=self.path)
            try:
                with os.fdopen(handle, "w", encoding="utf-8") as file:
                    file.write(text)
                    file.flush()
                    os.fsync(file.fileno())
                Path(beside).replace(self.path / name)
            finally:
                Path(beside).unlink(missing_ok=True)
            ondisk.sync_folder(self.path)
            if made:
                ondisk.sync_folder(self.data)
        except OSError as error:
            raise FolderTrouble(
                f"{self.path / name}: cannot be written ({error.strerror or error}). See that "
                "there is room and that the server's user may write there."
            ) from error

    @contextmanager
    def _alone(self) -> Iterator[None]:
        """Hold the numbers against the other server processes of this folder."""
        if sys.platform == "win32":
            yield
            return
        try:
            self.path.mkdir(mode=0o700, parents=True, exist_ok=True)
            handle = os.open(self.path / "lock", os.O_RDWR | os.O_CREAT, 0o600)
        except OSError as error:
            raise FolderTrouble(
                f"{self.path}: cannot be written ({error.strerror or error}). See that there "
                "is room and that the server's user may write there."
            ) from error
        try:
            fcntl.flock(handle, fcntl.LOCK_EX)
            yield
        finally:
            os.close(handle)


def _text(content: Mapping[str, Any]) -> str:
    return json.dumps(content, sort_keys=True) + "\n"
