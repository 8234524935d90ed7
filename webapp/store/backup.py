"""Back a depot up into one file, while its server runs."""

from __future__ import annotations

import os
import shutil
import tempfile
from datetime import UTC, datetime
from pathlib import Path

from webapp.plain import ondisk
from webapp.plain.jsontext import rfc3339
from webapp.store import archive, copies
from webapp.store.archive import BESIDE, KEY, POSTGRESQL, SQLITE, Manifest, Rows

WORKING = ".step-in-hand-backup-"


class NoRoom(Exception):
    """The file cannot stand where it was asked for."""


def make(data: Path, url: str, file: Path, *, with_key: bool, version: str) -> Manifest:
    """Write the backup of this data folder and this database to `file`, which must be new.

    Everything is made in a folder beside `file`; the name appears last, so whatever goes
    wrong, there is a whole backup or none. Tables are copied as they are: a backup before
    an update is one of the version before.
    """
    if file.exists():
        raise NoRoom(f"{file}: is there already. Give a name that is not taken.")
    if not file.parent.is_dir():
        raise NoRoom(f"{file.parent}: there is no such folder. Make it first.")
    working = Path(tempfile.mkdtemp(prefix=WORKING, dir=file.parent))
    try:
        now = rfc3339(datetime.now(UTC))
        members, rows = _gather(data, url, working, with_key=with_key)
        whole = working / "whole"
        whole.touch(mode=0o600)
        archive.write(whole, members, now, version, rows)
        manifest = archive.manifest_of(whole)
        _sync(whole)
        whole.rename(file)
        ondisk.sync_folder(file.parent)
        return manifest
    finally:
        shutil.rmtree(working, ignore_errors=True)


def _gather(
    data: Path, url: str, working: Path, *, with_key: bool
) -> tuple[dict[str, Path], Rows]:
    """Copy the database; the rest is small and is read where it lies."""
    if url.startswith("sqlite"):
        name, copy = SQLITE, working / SQLITE
        rows = copies.copy_sqlite(Path(url.removeprefix("sqlite:///")), copy)
    else:
        name, copy = POSTGRESQL, working / POSTGRESQL
        rows = copies.copy_postgresql(url, copy)
    wanted = [*BESIDE, *([KEY] if with_key else [])]
    beside = {one: data / one for one in wanted if (data / one).is_file()}
    if with_key and KEY not in beside:
        raise NoRoom(f"{data / KEY}: there is no signing key. Leave --with-key out.")
    return {name: copy, **beside}, rows


def _sync(path: Path) -> None:
    with path.open("rb") as file:
        os.fsync(file.fileno())
