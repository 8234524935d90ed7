"""Places in words: seasons, how one stands to the pack, its history out of the audit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from webapp.along import Json, place_words
from webapp.audit.service import Entry
from webapp.places.register import CHANGED, GONE, LEAVING, NEW, SERVED

STANDS = {
    SERVED: "",
    NEW: "Not on tablets yet: the next pack brings it.",
    CHANGED: "Tablets have it as it was before: the next pack brings the change.",
    LEAVING: "Tablets still have it: the next pack leaves it out.",
    GONE: "",
}
DEEDS = {
    "place.listed": "listed",
    "place.changed": "changed",
    "place.retired": "retired",
    "place.treatment": "treatment noted",
    "place.treatment_struck": "treatment taken back",
}
LABELS = {
    "name": "name",
    "direction": "direction",
    "from_m": "from",
    "to_m": "to",
    "state": "rail state",
    "season_from": "season, first day",
    "season_to": "season, last day",
    "reason": "reason",
    "source": "source",
    "retired": "taken off the list, because",
    "reports": "proposed by reports no.",
}
# Where the place lies stands above; the hand-over is told it as well.
TREATED = {"outcome": "treatment", "told_by": "told by", "note": "note"}


@dataclass(frozen=True)
class Deed:
    """One entry of a place's history."""

    at: datetime
    who: str
    what: str
    changes: list[tuple[str, str, str]]


def season(first: str, last: str) -> str:
    """Write a season from its first to its last day."""
    return f"{_day(first)} to {_day(last)}" if first else "all year"


def _day(text: str) -> str:
    month, day = (int(part) for part in text.split("-"))
    return f"{day} {date(2000, month, day):%b}"


def history(entries: Sequence[Entry], base: Json | None) -> list[Deed]:
    """Return every deed on a place, the newest first."""
    return [
        Deed(entry.at, entry.who, DEEDS.get(entry.what, entry.what), _changes(entry, base))
        for entry in reversed(entries)
    ]


def _changes(entry: Entry, base: Json | None) -> list[tuple[str, str, str]]:
    old, new = entry.old or {}, entry.new or {}
    labels = TREATED if entry.what.startswith("place.treatment") else LABELS
    return [
        (label, _value(key, old.get(key), base), _value(key, new.get(key), base))
        for key, label in labels.items()
        if key in new and new.get(key) != old.get(key) and (new.get(key) or old.get(key))
    ]


def _value(key: str, value: Any, base: Json | None) -> str:
    if value is None or value == "":
        return ""
    if key in {"from_m", "to_m"}:
        return place_words(float(value), base)
    if isinstance(value, list):
        return ", ".join(map(str, value))
    if key in {"state", "direction"}:
        rows = (base or {}).get(f"{key}s", [])
        return next((str(r.get("name", value)) for r in rows if r["key"] == value), str(value))
    return str(value)
