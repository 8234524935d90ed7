"""Write files so that after a power cut they are whole or absent, never half; hold folders."""

from __future__ import annotations

import os
import stat
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

if sys.platform != "win32":
    import fcntl

IN_USE = "in-use"


def write(path: Path, content: bytes) -> None:
    """Write a file and wait until the disk has its content; its name is the folder's."""
    with path.open("wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())


def keep_to_oneself() -> None:
    """Make what this process makes from now on readable for its own user alone."""
    os.umask(0o077)


def shared_with_others(folder: Path) -> bool:
    """Whether other users of this machine may look into a folder."""
    return os.name == "posix" and bool(stat.S_IMODE(folder.stat().st_mode) & 0o077)


def sync_folder(folder: Path) -> None:
    """Wait until the disk has the names in this folder."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except PermissionError:  # Windows opens no folder; its file system keeps names itself
        return
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


@contextmanager
def used(folder: Path) -> Iterator[bool]:
    """Hold a data folder as one of its servers; False when somebody is replacing it."""
    with _held(folder, alone=False) as free:
        yield free


@contextmanager
def alone(folder: Path) -> Iterator[bool]:
    """Hold a data folder alone; False while a server runs on it."""
    if not folder.is_dir():
        yield True
        return
    with _held(folder, alone=True) as free:
        yield free


@contextmanager
def _held(folder: Path, *, alone: bool) -> Iterator[bool]:
    """Lock a file in the folder; the system lets go when the process ends, however it ends."""
    if sys.platform == "win32":  # an open file cannot be renamed away there in any case
        yield True
        return
    handle = os.open(folder / IN_USE, os.O_RDWR | os.O_CREAT, 0o600)
    try:
        fcntl.flock(handle, (fcntl.LOCK_EX if alone else fcntl.LOCK_SH) | fcntl.LOCK_NB)
    except BlockingIOError:
        yield False
    else:
        yield True
    finally:
        os.close(handle)
