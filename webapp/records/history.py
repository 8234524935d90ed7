"""What was done to one thing: who, what, and of each field its value before and after."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from webapp.lines.base import Base, name_of, unit_of
from webapp.lines.posts import place_along
from webapp.store.audit import Entry

Value = str | datetime


@dataclass(frozen=True)
class Action:
    """One action; of each field that changed its label, what it was and what it became."""

    at: datetime
    who: str
    what: str
    changes: list[tuple[str, Value, Value]]


def action(entry: Entry, said: str, labels: Mapping[str, str], base: Base | None) -> Action:
    """Put one entry into words; fields without a label are what nobody reads."""
    old, new = entry.old or {}, entry.new or {}
    changes = [
        (label, _value(key, old.get(key), base), _value(key, new.get(key), base))
        for key, label in labels.items()
        if key in new and (new.get(key) or "") != (old.get(key) or "")
    ]
    return Action(entry.at, entry.who, said, changes)


def actions(
    entries: Sequence[Entry],
    said: Mapping[str, str],
    labels: Mapping[str, str],
    base: Base | None,
) -> list[Action]:
    """Put entries into words, the newest first; ``said`` has the words of each action."""
    newest = reversed(entries)
    return [action(one, said.get(one.what, one.what), labels, base) for one in newest]


def _value(key: str, value: Any, base: Base | None) -> Value:
    if value is None or value == "":
        return ""
    if key.endswith("_at"):
        return datetime.fromisoformat(str(value))
    if key in {"from_m", "to_m"}:
        return place_along(float(value), unit_of(base))
    if key in {"state", "direction"}:
        return name_of(base, f"{key}s", str(value))
    if isinstance(value, list):
        return "; ".join(map(str, value))
    return str(value)
