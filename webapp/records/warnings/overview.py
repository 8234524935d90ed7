"""Warnings as the desk reads them: lists by page, one with its reach and its history."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Select, func, select, tuple_
from sqlalchemy.orm import Session

from webapp.lines import in_use
from webapp.lines.base import Base, line_name, name_of, unit_of
from webapp.lines.posts import place_along, stretch_along
from webapp.plain.jsontext import rfc3339
from webapp.records.history import Action, actions
from webapp.records.warnings import receipts
from webapp.records.warnings.models import Warned
from webapp.store import audit

Json = dict[str, Any]

PAGE_SIZE = 25
SHOWN = {"live": "Live", "due": "Due for review", "drafts": "Drafts", "ended": "Ended"}
STATUS = {"live": "published", "due": "published", "drafts": "draft", "ended": "ended"}
ACTIONS = {
    "warning.draft": "drafted",
    "warning.publish": "published",
    "warning.amend": "amended",
    "warning.end": "ended",
    "warning.step": "clearing step noted",
    "warning.strike": "clearing step taken back",
    "warning.newer": "tablets hold a later wording, lost in a restore",
    "warning.held": "held by tablets from before the depot was restored",
}


@dataclass(frozen=True)
class Cursor:
    """A place in the list; (changed_at, id) never repeats, so no warning is skipped."""

    changed_at: datetime
    id: uuid.UUID

    def __str__(self) -> str:
        return f"{rfc3339(self.changed_at)}~{self.id}"

    @classmethod
    def read(cls, text: str) -> Cursor:
        """Read what `str` wrote; anything else is a ValueError."""
        moment, _, name = text.partition("~")
        changed_at = datetime.fromisoformat(moment)
        if changed_at.tzinfo is None:
            raise ValueError("a time without an offset")
        return cls(changed_at, uuid.UUID(name))


@dataclass(frozen=True)
class Shown:
    """One warning in words."""

    id: uuid.UUID
    rev: int
    status: str
    line: str
    direction: str
    place: str
    state: str
    reason: str
    from_at: datetime
    review_at: datetime | None
    due: bool
    told_by: str
    told_at: datetime | None
    reference: str
    report_id: uuid.UUID | None
    changed_at: datetime
    ended_at: datetime | None
    reach: receipts.Reach | None
    held_before: bool


@dataclass(frozen=True)
class Page:
    warnings: list[Shown]
    older: Cursor | None
    counts: dict[str, int]
    lines: dict[str, str]


def page(
    session: Session,
    show: str,
    line: str | None,
    now: datetime,
    before: Cursor | None = None,
    size: int = PAGE_SIZE,
) -> Page:
    """Return a page of the warnings of one kind, the last changed first."""
    query = _of_kind(show, line, now)
    if before is not None:
        place = tuple_(Warned.changed_at, Warned.id)
        query = query.where(place < tuple_(before.changed_at, before.id))
    query = query.order_by(Warned.changed_at.desc(), Warned.id.desc()).limit(size + 1)
    rows = session.scalars(query).all()
    sent = rows[:size]
    older = Cursor(sent[-1].changed_at, sent[-1].id) if len(rows) > size else None
    bases = in_use.bases(session)
    names = {key: base.name for key, base in bases.items()}
    return Page(shown(session, sent, bases, now), older, _counts(session, line, now), names)


def _of_kind(show: str, line: str | None, now: datetime) -> Select[Warned]:
    query = select(Warned).where(Warned.status == STATUS[show])
    if show == "due":
        query = query.where(Warned.review_at <= now)
    return query if line is None else query.where(Warned.line_key == line)


def _counts(session: Session, line: str | None, now: datetime) -> dict[str, int]:
    due = func.count().filter(Warned.review_at <= now)
    query = select(Warned.status, func.count(), due).group_by(Warned.status)
    if line is not None:
        query = query.where(Warned.line_key == line)
    found = {row[0]: (row[1], row[2]) for row in session.execute(query)}
    return {show: found.get(STATUS[show], (0, 0))[1 if show == "due" else 0] for show in SHOWN}


def shown(
    session: Session, rows: Sequence[Warned], bases: Mapping[str, Base], now: datetime
) -> list[Shown]:
    """Put names in the place of keys, and say how far each one came."""
    reach = receipts.reach(session, rows)
    return [_shown(row, bases.get(row.line_key), reach.get(row.id), now) for row in rows]


def _shown(
    row: Warned, base: Base | None, reach: receipts.Reach | None, now: datetime
) -> Shown:
    return Shown(
        id=row.id,
        rev=row.rev,
        status=row.status,
        line=line_name(base, row.line_key),
        direction=name_of(base, "directions", row.direction),
        place=stretch_along(row.from_m, row.to_m, unit_of(base)),
        state=name_of(base, "states", row.plan_state),
        reason=row.reason,
        from_at=row.from_at,
        review_at=row.review_at,
        due=row.status == "published" and row.review_at is not None and row.review_at <= now,
        told_by=row.told_by,
        told_at=row.told_at,
        reference=row.reference,
        report_id=row.report_id,
        changed_at=row.changed_at,
        ended_at=row.ended_at,
        reach=reach,
        held_before=row.held_before,
    )


def as_json(row: Warned, base: Base | None) -> Json:
    """Return a warning for programs of the desk: keys as the pack has them, times in UTC."""
    times = ("from_at", "review_at", "told_at", "changed_at", "ended_at")
    moments = {name: getattr(row, name) for name in times}
    ends = {"from_place": row.from_m, "to_place": row.to_m}
    same = ("rev", "status", "direction", "datum", "from_m", "to_m", "reason", "told_by")
    return {
        **{"id": str(row.id), "line": row.line_key, "state": row.plan_state},
        **{name: getattr(row, name) for name in (*same, "reference")},
        **{name: place_along(at, unit_of(base)) for name, at in ends.items()},
        **{name: None if at is None else rfc3339(at) for name, at in moments.items()},
        "report": None if row.report_id is None else str(row.report_id),
    }


def title(warning: Warned, base: Base | None) -> str:
    """Return what a warning is about, in a few words."""
    state = name_of(base, "states", warning.plan_state)
    place = stretch_along(warning.from_m, warning.to_m, unit_of(base))
    return f"{state}, {place}, {name_of(base, 'directions', warning.direction)}"


def history(session: Session, name: uuid.UUID, base: Base | None) -> list[Action]:
    """Return every action on a warning out of the audit, the newest first."""
    return actions(audit.of(session, str(name)), ACTIONS, LABELS, base)


LABELS = {
    "line": "line",
    "direction": "direction",
    "from_m": "from",
    "to_m": "to",
    "state": "rail state",
    "reason": "reason",
    "from_at": "from when",
    "review_at": "ask again at",
    "told_by": "told by",
    "told_at": "told at",
    "reference": "reference",
    "typed_adhesion": "typed adhesion",
    "end_told_at": "end told at",
    "end_reference": "reference of the end",
    "missing": "missing when it ended",
    "override": "ended all the same, because",
    "set_aside": "set aside when it ended",
    "step": "step",
    "result": "found",
    "done_at": "done at",
    "note": "note",
}
