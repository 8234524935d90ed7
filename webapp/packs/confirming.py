"""Write into a route folder who looked a doubt up and found the row right."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from datetime import date
from pathlib import Path

from webapp.packs.doubts import CONFIRMED, Doubt

HEADING = ("code", "file", "place", "who", "on", "reason")


def write_confirmed(
    folder: Path, found: Sequence[Doubt], who: str, reason: str, on: date
) -> None:
    """Add a row for each doubt to ``confirmed.csv``; what is in the file stays as it is."""
    path = folder / CONFIRMED
    before = path.read_bytes().decode("utf-8-sig") if path.exists() else ""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    if not before.strip():
        writer.writerow(HEADING)
    elif not before.endswith("\n"):
        out.write("\n")
    for one in found:
        writer.writerow([one.code, one.file, one.place, who, on.isoformat(), reason])
    with path.open("a", encoding="utf-8", newline="") as file:
        file.write(out.getvalue())
