"""A route folder that is built in a second or two: the demo's first line with two stops."""

from __future__ import annotations

import csv
import io
import re
import shutil
from pathlib import Path

from webapp.packs.service import demo_routes

STATIONS = {"kettle-bay", "brinewick", "tunmarsh"}
TRAIN = {"type": "disc", "formation": "4"}
#: What names stops that are not there any more, or was confirmed about them.
DROPPED = ("brake_tests.csv", "signals.csv", "confirmed.csv", "doors.csv")
SETTINGS = {"isolated_limit_share = 0.25": "isolated_limit_share = 0.0"}
SETTINGS |= {"reduction_drop = 20": "reduction_drop = 200"}


def short_route(folder: Path) -> Path:
    """Copy the demo's first line and leave of it a few stations, one train, one direction."""
    shutil.copytree(demo_routes()["kettle-bay"], folder)
    for name in DROPPED:
        (folder / name).unlink()
    trips = _kept(folder / "trips.csv", {**TRAIN, "direction": "down"})
    wanted = {"station": STATIONS, "direction": "down", "trip": trips, "cars": "4"}
    for name in ("stops", "marks", "not_past", "calls"):
        _kept(folder / f"{name}.csv", wanted)
    _kept(folder / "stations.csv", {"key": STATIONS})
    _kept(folder / "listed.csv", {"key": "none"})
    head = (folder / "route.toml").read_text("utf-8")
    for old, new in SETTINGS.items():
        assert head.count(old) == 1, old
        head = head.replace(old, new)
    (folder / "route.toml").write_text(head, "utf-8")
    trains = (folder / "trains.toml").read_text("utf-8")
    first = re.split(r"(?m)^\[\[type\]\]$", trains)[:2]
    (folder / "trains.toml").write_text("[[type]]".join(first), "utf-8")
    return folder


def _kept(path: Path, wanted: dict[str, str | set[str]]) -> set[str]:
    """Keep the rows that say this where they say anything; return the first column's."""
    rows = list(csv.DictReader(io.StringIO(path.read_text("utf-8"))))
    out = io.StringIO()
    writer = csv.DictWriter(out, list(rows[0]), lineterminator="\n")
    writer.writeheader()
    left = [row for row in rows if all(_says(row.get(k), v) for k, v in wanted.items())]
    writer.writerows(left)
    path.write_text(out.getvalue(), "utf-8")
    return {next(iter(row.values())) for row in left}


def _says(found: str | None, wanted: str | set[str]) -> bool:
    return not found or (found in wanted if isinstance(wanted, set) else found == wanted)
