"""Get a data folder ready: its tables and the demo's packs."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
from alembic import command
from alembic.util import CommandError
from flask import Flask

from webapp.packs.service import build_pack, demo_routes, route_key
from webapp.plain import ondisk
from webapp.plain.config import SettingsError
from webapp.publish import proposals
from webapp.publish import service as publisher
from webapp.records.places import register as register_
from webapp.store import depot
from webapp.store.db import db, folder_of, reading, writing

Say = Callable[[str], None]
Progress = Callable[[str, int, int], None]

CODE = Path(__file__).resolve().parents[1]
BUILT = "demo-packs.json"


def migrate(app: Flask, *, adopt: bool = False) -> None:
    """Bring the tables to this version, and see that folder and database belong together.

    ``adopt``: somebody said that they do, at a restore. On what is current nothing happens.
    """
    with app.app_context():
        depot.refuse_foreign(db.engine, folder_of(db.session()), adopt=adopt)
        try:
            command.upgrade(app.extensions["migrate"].migrate.get_config(), "head")
        except CommandError as error:
            raise SettingsError(
                f"the database was written by a newer version ({error}). "
                "Install that version again, or choose another --data folder."
            ) from error
        with writing() as session:
            depot.join(session, datetime.now(UTC), adopt=adopt)


def refuse_shared(app: Flask) -> None:
    """Refuse a data folder that other users of the machine may look into."""
    folder = app.config["DATA"]
    if ondisk.shared_with_others(folder):
        raise SettingsError(
            f"{folder}: other users of this machine may look into the data folder, and "
            f"reports name drivers. Type: chmod 700 {folder}"
        )


def check_whole(app: Flask) -> None:
    """Find a damaged database before it is served; a large one is read beside the work."""
    with app.app_context():
        depot.check_whole(folder_of(db.session()), app.logger.error)


def sign_index(app: Flask) -> None:
    """See that there is a signing key and that the newest index is signed with it."""
    with app.app_context(), writing() as session:
        publisher.settle(session, app.extensions["depot_key"], datetime.now(UTC))


def publish_demo(app: Flask, say: Say, progress: Progress) -> None:
    """Publish the demo lines, computing only those whose files or code changed."""
    folders = demo_routes()
    if not folders:
        raise SettingsError("the demo lines are missing. Install the package again.")
    notes = app.config["DATA"] / BUILT
    built = _read_notes(notes)
    for name, folder in folders.items():
        source = source_sha(folder) + _register_sha(app, folder)
        if _is_published(app, built.get(name), source):
            say(f"{name}: unchanged, its pack is there")
            continue
        built[name] = [source, _build_and_publish(app, folder, say, progress)]
        notes.write_text(json.dumps(built, indent=1))


def source_sha(folder: Path) -> str:
    """Name all that a pack depends on: the route's files, our code, numpy."""
    parts = [*_files(folder, "*"), *_files(CODE.parent / "calc", "*.py")]
    parts += [*_files(CODE / "packs", "*"), *_files(CODE / "lines", "*")]
    digest = hashlib.sha256(np.__version__.encode())
    for path in parts:
        digest.update(f"{path.name}\0".encode() + hashlib.sha256(path.read_bytes()).digest())
    return digest.hexdigest()


def _register_sha(app: Flask, folder: Path) -> str:
    """Name what the register lays over the route's files; nothing where it is empty."""
    register = _register(app, folder)
    text = json.dumps(register, sort_keys=True).encode()
    return f"-{hashlib.sha256(text).hexdigest()}" if register else ""


def _register(app: Flask, folder: Path) -> list[dict[str, Any]]:
    with app.app_context(), reading() as session:
        return register_.entries(session, route_key(folder))


def _files(folder: Path, pattern: str) -> list[Path]:
    return sorted(
        path
        for path in folder.rglob(pattern)
        if path.is_file() and "__pycache__" not in path.parts
    )


def _read_notes(notes: Path) -> dict[str, list[str]]:
    """Read what was built before; without readable notes everything is built again."""
    try:
        return dict(json.loads(notes.read_text()))
    except (OSError, ValueError):
        return {}


def _is_published(app: Flask, built: list[str] | None, source: str) -> bool:
    if built is None or built[0] != source:
        return False
    with app.app_context(), reading() as session:
        current = publisher.current(session)
    withdrawn = {pack for one in current.withdrawn for pack in one["packs"]}
    # A pack that was withdrawn is not brought back by a mere start.
    return built[1] in {route["pack"] for route in current.routes} | withdrawn


def _build_and_publish(app: Flask, folder: Path, say: Say, progress: Progress) -> str:
    say(f"{folder.name}: computing its braking tables, about half a minute")
    pack = build_pack(folder, progress, _register(app, folder))
    keys = app.extensions["depot_key"]
    with app.app_context(), writing() as session:
        now = datetime.now(UTC)
        publisher.ready(session, keys, now)
        proposals.store(session, pack)
        publisher.publish(session, pack, now, keys.load())
    say(f"{folder.name}: published, {pack.gz_size / 1024:.0f} KiB compressed")
    return pack.sha256
