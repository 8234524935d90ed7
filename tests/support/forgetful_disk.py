"""A file system that forgets what was not synced: a power cut without pulling the plug.

`python forgetful_disk.py MOUNT STORE` mounts it (FUSE). Files live in memory, each twice:
as programs see it, and as it is on the disk. `fsync` of a file carries its content over,
`fsync` of a folder its names, as POSIX has it and no more. A line on standard input cuts the
power: what was on the disk is written to the folder STORE and this process ends at once.

    cut none            nothing that was not synced is there
    cut names SEED      names, but not content: a renamed file may be empty
    cut some SEED       any half of the writes, torn in sectors; names of a folder old or new
    watch FOLDER        from now on, before each change or sync, write down in FOLDER what a
                        cut at this moment would leave, each way: 17-none, 17-names, 17-some
    sync                all that is seen is on the disk, as after a quiet minute
    count               print how many changes and syncs there were
"""

from __future__ import annotations

import errno
import functools
import os
import random
import stat
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import mfusepy as fuse

SECTOR = 512
HOW = ("none", "names", "some")


class File:
    """Bytes as seen, bytes on the disk, and the writes that came since."""

    def __init__(self, mode: int) -> None:
        self.mode = stat.S_IFREG | (mode & 0o7777)
        self.mtime = time.time_ns()
        self.seen = bytearray()
        self.disk = b""
        self.since: list[tuple[int, bytes | None]] = []

    def write(self, offset: int, data: bytes | None) -> None:
        apply(self.seen, offset, data)
        self.since.append((offset, data))
        self.mtime = time.time_ns()

    def sync(self) -> None:
        self.disk, self.since = bytes(self.seen), []

    def after(self, chance: random.Random | None) -> bytes:
        """Give what a cut leaves of it."""
        if chance is None:
            return self.disk
        left = bytearray(self.disk)
        for offset, data in self.since:
            if data is None:
                if chance.random() < 0.5:
                    apply(left, offset, None)
                continue
            for at in range(0, len(data), SECTOR):
                if chance.random() < 0.5:
                    apply(left, offset + at, data[at : at + SECTOR])
        return bytes(left)


class Folder:
    """Names as seen and names on the disk."""

    def __init__(self, mode: int = 0o755) -> None:
        self.mode = stat.S_IFDIR | (mode & 0o7777)
        self.mtime = time.time_ns()
        self.seen: dict[str, File | Folder] = {}
        self.disk: dict[str, File | Folder] = {}

    def sync(self) -> None:
        self.disk = dict(self.seen)


def apply(content: bytearray, offset: int, data: bytes | None) -> None:
    """Write at a place; without data, cut or fill up to that length."""
    if len(content) < offset:
        content.extend(bytes(offset - len(content)))
    if data is None:
        del content[offset:]
    else:
        content[offset : offset + len(data)] = data


def change(work: Callable[..., Any]) -> Callable[..., Any]:
    """Count a change or sync, and keep for a watcher what stood before it."""

    @functools.wraps(work)
    def counted(self: ForgetfulDisk, *arguments: Any) -> Any:
        with self.turn:
            if self.watcher:
                for how in HOW:
                    self.keep(how, self.changes, self.watcher / f"{self.changes}-{how}")
            self.changes += 1
            return work(self, *arguments)

    return counted


class ForgetfulDisk(fuse.Operations):
    use_ns = True

    def __init__(self, store: Path) -> None:
        self.store = store
        self.root = Folder()
        self.turn = threading.RLock()
        self.changes = 0
        self.watcher: Path | None = None

    def find(self, path: str) -> Any:
        node: Any = self.root
        for name in Path(path).parts[1:]:
            if not isinstance(node, Folder) or name not in node.seen:
                raise fuse.FuseOSError(errno.ENOENT)
            node = node.seen[name]
        return node

    def home(self, path: str) -> tuple[Folder, str]:
        return self.find(str(Path(path).parent)), Path(path).name

    def getattr(self, path: str, fh: Any = None) -> dict[str, Any]:
        node = self.find(path)
        size = len(node.seen) if isinstance(node, File) else 0
        times = dict.fromkeys(("st_mtime", "st_atime", "st_ctime"), node.mtime)
        owner = {"st_uid": os.getuid(), "st_gid": os.getgid(), "st_nlink": 1}
        return {"st_mode": node.mode, "st_size": size, **times, **owner}

    def readdir(self, path: str, fh: Any) -> list[str]:
        return [".", "..", *self.find(path).seen]

    def open(self, path: str, flags: int) -> int:
        self.find(path)
        return 1

    def read(self, path: str, size: int, offset: int, fh: Any) -> bytes:
        return bytes(self.find(path).seen[offset : offset + size])

    @change
    def create(self, path: str, mode: int, fi: Any = None) -> int:
        folder, name = self.home(path)
        folder.seen[name] = File(mode)
        return 1

    @change
    def mkdir(self, path: str, mode: int) -> int:
        folder, name = self.home(path)
        folder.seen[name] = Folder(mode)
        return 0

    @change
    def write(self, path: str, data: bytes, offset: int, fh: Any) -> int:
        self.find(path).write(offset, bytes(data))
        return len(data)

    @change
    def truncate(self, path: str, length: int, fh: Any = None) -> int:
        self.find(path).write(length, None)
        return 0

    @change
    def fsync(self, path: str, datasync: int, fh: Any) -> int:
        self.find(path).sync()
        return 0

    @change
    def fsyncdir(self, path: str, datasync: int, fh: Any) -> int:
        self.find(path).sync()
        return 0

    @change
    def link(self, new: str, old: str) -> int:
        folder, name = self.home(new)
        if name in folder.seen:
            raise fuse.FuseOSError(errno.EEXIST)
        folder.seen[name] = self.find(old)
        return 0

    @change
    def unlink(self, path: str) -> int:
        folder, name = self.home(path)
        del folder.seen[name]
        return 0

    @change
    def rmdir(self, path: str) -> int:
        folder, name = self.home(path)
        if self.find(path).seen:
            raise fuse.FuseOSError(errno.ENOTEMPTY)
        del folder.seen[name]
        return 0

    @change
    def rename(self, old: str, new: str) -> int:
        (here, name), (there, wanted) = self.home(old), self.home(new)
        target = there.seen.get(wanted)
        if isinstance(target, Folder) and target.seen:
            raise fuse.FuseOSError(errno.ENOTEMPTY)
        there.seen[wanted] = here.seen.pop(name)
        return 0

    def chmod(self, path: str, mode: int) -> int:
        node = self.find(path)
        node.mode = stat.S_IFMT(node.mode) | (mode & 0o7777)
        return 0

    def chown(self, path: str, uid: int, gid: int) -> int:
        return 0

    def utimens(self, path: str, times: tuple[int, int] | None = None) -> int:
        self.find(path).mtime = times[1] if times else time.time_ns()
        return 0

    def keep(self, how: str, seed: int, target: Path) -> None:
        """Write down what a power cut now would leave on the disk."""
        self._keep(self.root, target, how, random.Random(seed))

    def _keep(self, folder: Folder, target: Path, how: str, chance: random.Random) -> None:
        target.mkdir(parents=True, exist_ok=True)
        new_names = how == "names" or (how == "some" and chance.random() < 0.5)
        for name, node in (folder.seen if new_names else folder.disk).items():
            if isinstance(node, Folder):
                self._keep(node, target / name, how, chance)
            else:
                left = node.after(chance if how == "some" else None)
                (target / name).write_bytes(left)
                (target / name).chmod(stat.S_IMODE(node.mode))

    def cut(self, how: str, seed: str = "0") -> str:
        self.keep(how, int(seed), self.store)
        self.store.with_suffix(".cut").touch()
        os._exit(0)

    def watch(self, folder: str) -> str:
        self.watcher = Path(folder)
        return "watching"

    def sync(self) -> str:
        todo: list[File | Folder] = [self.root]
        while todo:
            node = todo.pop()
            node.sync()
            todo += node.seen.values() if isinstance(node, Folder) else ()
        return "synced"

    def count(self) -> str:
        return str(self.changes)

    def obey(self) -> None:
        """Follow the lines of standard input; with its end this file system ends too."""
        orders = {"cut": self.cut, "watch": self.watch, "sync": self.sync, "count": self.count}
        for line in sys.stdin:
            what, *rest = line.split()
            with self.turn:
                print(orders[what](*rest), flush=True)
        os._exit(1)


if __name__ == "__main__":
    disk = ForgetfulDisk(Path(sys.argv[2]))
    threading.Thread(target=disk.obey, daemon=True).start()
    # One thread: the order of changes is the order in which programs asked for them.
    fuse.FUSE(disk, sys.argv[1], foreground=True, nothreads=True)
