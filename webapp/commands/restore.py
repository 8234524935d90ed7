"""Put a depot back from one file: into a new folder, checked, then in place in one go."""

from __future__ import annotations

import os
import shutil
import tempfile
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import chain, count
from pathlib import Path

from flask import Flask

from webapp.commands.terminal import open_data
from webapp.plain import ondisk
from webapp.publish.declared import declare
from webapp.records.people import service as people
from webapp.store import archive, copies
from webapp.store.archive import BESIDE, KEY, SQLITE, Manifest, Rows
from webapp.store.datafolder import NUMBERS, PLACE, DataFolder
from webapp.store.db import db, writing

WHO = "at the server"


class Refused(Exception):
    """Nothing was touched; the text says why and what to do."""


@dataclass(frozen=True)
class Restored:
    """What came of it: where the folder that was there before is, and whose key it has."""

    manifest: Manifest
    former: Path | None
    has_key: bool


def restore(file: Path, data: Path, url: str, *, replace: bool) -> Restored:
    """Restore `file` as the data folder `data`.

    Raises
    ------
    Refused, archive.NotWhole, stores.StoreTrouble, SettingsError
        Before anything that was there has been touched.
    """
    manifest = archive.manifest_of(file)
    lite = url.startswith("sqlite")
    if lite != (manifest.database == SQLITE):
        raise Refused(
            f"{file}: a backup of {'PostgreSQL' if lite else 'SQLite'}. "
            + ("Set" if lite else "Leave out")
            + " STEP_IN_HAND_DATABASE_URL for it."
        )
    taken = data.is_dir() and any(data.iterdir())
    if taken and lite and not replace:
        raise Refused(
            f"{data}: holds something. Name a folder that does not exist, or add --replace; "
            "the present folder is then kept under another name."
        )
    data.absolute().parent.mkdir(parents=True, exist_ok=True)
    with ondisk.alone(data) as free:
        if not free:
            raise Refused(f"{data}: a server runs on it. Stop it first.")
        if lite and not taken and data.is_dir():
            shutil.rmtree(data)  # empty but for our own lock
        return _restore(file, manifest, data.absolute(), url, lite=lite)


def _restore(file: Path, manifest: Manifest, data: Path, url: str, *, lite: bool) -> Restored:
    former = None
    new = Path(tempfile.mkdtemp(prefix=f".{data.name}-restoring-", dir=data.parent))
    try:
        archive.unpack(file, manifest, new)
        if (data / KEY).is_file():
            # The key of this machine may be newer than the one in the file; tablets follow
            # from the old one to it, never back.
            (new / KEY).parent.mkdir(mode=0o700, exist_ok=True)
            shutil.copy2(data / KEY, new / KEY)
        if lite:
            (new / SQLITE).rename(new / "step-in-hand.sqlite3")
            _compare(manifest, copies.check_sqlite(new / "step-in-hand.sqlite3"))
            DataFolder(new, None).take_from(data)
            _settle(open_data(new, adopt=True, DATABASE_URL=None), manifest, data)
            former = _switch(new, data)
        else:
            _compare(manifest, copies.fill_postgresql(url, new / manifest.database))
            _add_missing(new, data)
            DataFolder(data, None).take_from(new)
            _settle(open_data(data, adopt=True), manifest, data)
        return Restored(manifest, former, (data / KEY).is_file())
    finally:
        shutil.rmtree(new, ignore_errors=True)


def _compare(manifest: Manifest, found: Rows) -> None:
    wrong = {
        name: n for name, n in manifest.counts.items() if found.counts.get(name) != n
    } or set(found.counts) - set(manifest.counts)
    if wrong:
        raise archive.NotWhole(
            f"the copy's tables do not hold what was backed up ({', '.join(sorted(wrong))}). "
            "Take another backup."
        )


def _settle(app: Flask, manifest: Manifest, data: Path) -> None:
    """Make the copy fit for service: log-ins end, and tablets offer again what they hold."""
    # Numbers of a folder that is not here any more were given by nobody knows which.
    sure = (data / PLACE / NUMBERS).is_file()
    with app.app_context():
        with writing() as session:
            people.log_everybody_out(session)
            why = {"made_at": manifest.made_at}
            declare(session, WHO, datetime.now(UTC), why, numbers_known=sure)
        db.engine.dispose()


def _former_name(data: Path) -> Path:
    """Return a name that no folder has: two restores may fall in one second."""
    name = f"{data.name}-before-{datetime.now(UTC):%Y%m%dT%H%M%SZ}"
    names = chain([name], (f"{name}-{n}" for n in count(2)))
    return next(one for one in map(data.with_name, names) if not one.exists())


def _switch(new: Path, data: Path) -> Path | None:
    """Give the new folder the name; what had it before keeps all it holds under another."""
    for path in [*new.rglob("*")]:
        if path.is_file():
            _sync(path)
    former = None
    if data.exists():
        former = _former_name(data)
        data.rename(former)
    try:
        new.rename(data)
    except BaseException:
        if former is not None:
            former.rename(data)
        raise
    ondisk.sync_folder(data.parent)
    return former


def _add_missing(new: Path, data: Path) -> None:
    """Beside PostgreSQL the folder holds little: what is there stays, what is not is added."""
    for name in (KEY, *BESIDE):
        if (new / name).is_file() and not (data / name).exists():
            (data / name).parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            shutil.copy2(new / name, data / name)
            _sync(data / name)


def _sync(path: Path) -> None:
    with path.open("rb") as file:
        os.fsync(file.fileno())
