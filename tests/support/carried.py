"""Published packs carried from one store to another: computing them anew takes a minute."""

from __future__ import annotations

import gzip
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from flask import Flask
from sqlalchemy.orm import Session

from tests.support.fake_pack import FakeFile, FakePack
from webapp import create_app
from webapp.commands import prepare
from webapp.lines import in_use
from webapp.publish import service as publisher
from webapp.store.db import db, reading, writing


def carry_packs(held: Path, data: Path, url: str) -> None:
    """Publish the packs of the folder `held` in a new depot: folder `data`, database `url`."""
    lite = create_app({"DATA": held, "DEMO": True})
    grand = create_app({"DATA": data, "DEMO": True, "DATABASE_URL": url})
    with lite.app_context(), reading() as session:
        packs = [_pack(session, route) for route in publisher.current(session).routes]
    prepare.migrate(grand)
    with grand.app_context(), writing() as session:
        for pack in packs:
            publisher.publish(session, pack, datetime.now(UTC))
    _let_go(lite, grand)


def _pack(session: Session, route: dict[str, Any]) -> FakePack:
    manifest = in_use.content(session, route["pack"])
    named = [("manifest", route["pack"])]
    named += [(file["kind"], file["sha256"]) for file in manifest["files"]]
    files = []
    for kind, sha in named:
        gz = in_use.stored_file(session, sha)
        assert gz is not None
        files.append(FakeFile(kind, sha, len(gzip.decompress(gz)), gz))
    return FakePack(route["key"], route["name"], route["pack"], tuple(files))


def _let_go(*apps: Flask) -> None:
    for app in apps:
        with app.app_context():
            db.engine.dispose()
