"""The demo's data, computed once for all tests and all runs with the same sources."""

from __future__ import annotations

import contextlib
import hashlib
import os
import shutil
import tempfile
from pathlib import Path

from webapp import create_app, prepare
from webapp.db import MIGRATIONS, db
from webapp.packs.service import demo_routes


def prepared_demo(scratch: Path) -> Path:
    """Return a data folder with the demo's packs; it must be copied, not used."""
    shas = [prepare.source_sha(folder) for folder in demo_routes().values()]
    # A migration that is still being written changes the tables too.
    shas += sorted(path.read_text() for path in (MIGRATIONS / "versions").glob("*.py"))
    name = hashlib.sha256("".join(shas).encode()).hexdigest()[:16]
    kept = Path(tempfile.gettempdir()) / f"step-in-hand-tests-{os.getuid()}" / name
    if not kept.is_dir():
        fresh = scratch / "data"
        app = create_app({"DATA": fresh, "DEMO": True})
        prepare.migrate(app)
        prepare.publish_demo(app, print, lambda *_: None)
        with app.app_context():
            # All of it into the one file: a copy of the folder needs no write-ahead log.
            db.engine.dispose()
        kept.parent.mkdir(exist_ok=True)
        with contextlib.suppress(OSError):  # another run was quicker
            shutil.copytree(fresh, kept.with_suffix(f".{os.getpid()}"))
            kept.with_suffix(f".{os.getpid()}").rename(kept)
    return kept
