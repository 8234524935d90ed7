"""The demo's packs read straight from the data folder, as a tablet holds them."""

from __future__ import annotations

import gzip
import json
import sqlite3
from pathlib import Path
from typing import Any


def demo_packs(data: Path) -> dict[str, dict[str, Any]]:
    """Return ``{route: {"base": …, "table": …}}``."""
    question = "SELECT sha, gz FROM pack_file WHERE kind IN ('base', 'table')"
    with sqlite3.connect(data / "step-in-hand.sqlite3") as db:
        files = {sha: json.loads(gzip.decompress(gz)) for sha, gz in db.execute(question)}
    tables = {one["base"]: one for one in files.values() if "columns" in one}
    return {
        one["route"]["key"]: {"base": one, "table": tables[sha]}
        for sha, one in files.items()
        if "route" in one
    }
