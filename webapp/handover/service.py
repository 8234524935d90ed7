"""Gather a shift: what is live, what changed since a moment, what waits."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy.orm import Session

from webapp.along import Lines
from webapp.audit import service as audit
from webapp.control import service as control
from webapp.control.service import LivePlace, Wheels
from webapp.handover.words import NOT_TOLD, Change, change
from webapp.not_enrolled import service as strangers
from webapp.reports import service as reports
from webapp.reports.service import Doubt, Some
from webapp.restrictions import service as restrictions
from webapp.restrictions.service import Restriction
from webapp.warnings import service as warnings

DRAFT = "draft"
SHIFT = timedelta(hours=12)
FURTHEST = timedelta(days=31)
MOST_CHANGES = 200
MOST_REPORTS = 40
REFUSED = "log-in.refused"


@dataclass(frozen=True)
class Shift:
    """All that one shift hands to the next."""

    since: datetime
    now: datetime
    live: list[LivePlace]
    drafts: list[LivePlace]
    changes: list[Change]
    more_changes: bool
    refused: int
    waiting: Some
    apart: strangers.Apart
    wheels: list[Wheels]
    gaps: list[Doubt]
    restrictions: list[Restriction]
    lines: Lines

    @property
    def reviews_due(self) -> list[LivePlace]:
        return [one for one in self.live if one.review_due]

    @property
    def past_end(self) -> list[Restriction]:
        return [one for one in self.restrictions if restrictions.asks(one, self.now)]


def shift(session: Session, since: datetime, now: datetime) -> Shift:
    """Return what is live, what was done since, and what waits."""
    known = control.lines(session)
    done = audit.since(session, since, MOST_CHANGES + 1, NOT_TOLD)
    return Shift(
        since=since,
        now=now,
        live=control.live(session, now, known),
        drafts=drafts(session, now, known),
        changes=[change(entry, known) for entry in done[:MOST_CHANGES]],
        more_changes=len(done) > MOST_CHANGES,
        refused=audit.count_since(session, since, REFUSED),
        waiting=reports.unanswered(session, MOST_REPORTS),
        apart=strangers.waiting(session),
        wheels=[one for one in control.wheels(session, now) if one.check is None],
        gaps=reports.doubts(session),
        restrictions=restrictions.live(session, now),
        lines=known,
    )


def drafts(session: Session, now: datetime, known: Lines) -> list[LivePlace]:
    """Return warnings that nobody has published yet."""
    rows = [one for one in warnings.listed(session) if one.status == DRAFT]
    return [control.place_of(row, now, known) for row in rows]
