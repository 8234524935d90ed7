"""The demo's data, computed once for all tests and all runs with the same sources."""

from __future__ import annotations

import fcntl
import hashlib
import os
import shutil
import tempfile
from pathlib import Path

from webapp import create_app
from webapp.commands import prepare
from webapp.packs.service import demo_routes
from webapp.store.db import MIGRATIONS, db


def prepared_demo(scratch: Path) -> Path:
    """Return a data folder with the demo's packs; it must be copied, not used."""
    shas = [prepare.source_sha(folder) for folder in demo_routes().values()]
    # A migration that is still being written changes the tables too.
    shas += sorted(path.read_text() for path in (MIGRATIONS / "versions").glob("*.py"))
    name = hashlib.sha256("".join(shas).encode()).hexdigest()[:16]
    kept = Path(tempfile.gettempdir()) / f"step-in-hand-tests-{os.getuid()}" / name
    kept.parent.mkdir(exist_ok=True)
    # Tests that run beside each other compute it once: the others wait.
    with kept.with_suffix(".lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not kept.is_dir():
            compute(scratch / "data")
            shutil.copytree(scratch / "data", kept.with_suffix(".part"), dirs_exist_ok=True)
            kept.with_suffix(".part").rename(kept)
    return kept


def compute(data: Path) -> None:
    app = create_app({"DATA": data, "DEMO": True})
    prepare.migrate(app)
    prepare.publish_demo(app, print, lambda *_: None)
    with app.app_context():
        # All of it into the one file: a copy of the folder needs no write-ahead log.
        db.engine.dispose()
