"""Places in words: seasons, how one stands to the pack, its history out of the audit."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from webapp.lines.base import Base
from webapp.records.history import Action, action
from webapp.records.places.register import CHANGED, GONE, LEAVING, NEW, SERVED
from webapp.store.audit import Entry

STANDS = {
    SERVED: "",
    NEW: "Not on tablets yet: the next pack brings it.",
    CHANGED: "Tablets have it as it was before: the next pack brings the change.",
    LEAVING: "Tablets still have it: the next pack leaves it out.",
    GONE: "",
}
ACTIONS = {
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
TREATED = {"outcome": "treatment", "done_at": "when", "told_by": "told by", "note": "note"}


def season(first: str, last: str) -> str:
    """Write a season from its first to its last day."""
    return f"{_day(first)} to {_day(last)}" if first else "all year"


def _day(text: str) -> str:
    month, day = (int(part) for part in text.split("-"))
    return f"{day} {date(2000, month, day):%b}"


def history(entries: Sequence[Entry], base: Base | None) -> list[Action]:
    """Return every action on a place, the newest first."""
    return [
        action(one, ACTIONS.get(one.what, one.what), _labels(one), base)
        for one in reversed(entries)
    ]


def _labels(entry: Entry) -> dict[str, str]:
    return TREATED if entry.what.startswith("place.treatment") else LABELS
