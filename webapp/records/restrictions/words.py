"""What was done to a restriction, in words."""

from __future__ import annotations

from collections.abc import Sequence

from webapp.lines.base import Base
from webapp.records.history import Action, actions
from webapp.store.audit import Entry

ACTIONS = {
    "restriction.noted": "noted",
    "restriction.changed": "changed",
    "restriction.ended": "ended",
}
LABELS = {
    "speed": "speed",
    "direction": "direction",
    "from_m": "from",
    "to_m": "to",
    "from_at": "start",
    "until_at": "end",
    "reference": "notice",
    "told_by": "told by",
    "ended_at": "ended",
    "reason": "because",
}


def history(entries: Sequence[Entry], base: Base | None) -> list[Action]:
    """Return every action on a restriction, the newest first."""
    return actions(entries, ACTIONS, LABELS, base)
