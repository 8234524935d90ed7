"""Gather a shift: what is live, what changed since a moment, what waits."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy.orm import Session

from webapp.lines.base import Lines
from webapp.records import control
from webapp.records import not_enrolled as strangers
from webapp.records.control import LivePlace, Wheels
from webapp.records.reports import lists, sequence
from webapp.records.reports.lists import Some
from webapp.records.reports.sequence import Doubt
from webapp.records.restrictions import service as restrictions
from webapp.records.restrictions.models import Restriction
from webapp.records.warnings import service as warnings
from webapp.store import audit
from webapp.store.audit import Entry

# Log-ins are not what changed; only that some were refused is told, as a number.
NOT_TOLD = ("log-in", "log-out", "log-in.refused", "person.password", "outbox.id_reused")
ACTIONS = {
    "warning.draft": "Warning drafted",
    "warning.publish": "Warning published",
    "warning.amend": "Warning amended",
    "warning.end": "Warning ended",
    "warning.step": "Step of clearing told",
    "warning.strike": "Step of clearing struck",
    "warning.newer": "Warning of which tablets hold a later wording: amend it to what stands",
    "warning.held": "Warning that tablets hold from before a restore: publish or end it",
    "outbox.carried": "File of unsent reports taken in",
    "place.listed": "Place listed",
    "place.changed": "Listed place changed",
    "place.retired": "Place taken off the list",
    "place.treatment": "Treatment noted",
    "place.treatment_struck": "Treatment taken back",
    "place.declined": "Proposed place declined",
    "restriction.noted": "Speed restriction noted",
    "restriction.changed": "Speed restriction changed",
    "restriction.ended": "Speed restriction ended",
    "report.answer": "Report answered",
    "report.reviewed": "Report reviewed",
    "report.reopened": "Review of a report taken back",
    "report.joined": "Report joined to another",
    "report.parted": "Report parted from another",
    "report.noted": "Note on a report",
    "wheels.inspected": "Wheels inspected",
    "train.barred": "Trains barred",
    "train.unbarred": "Trains let go again",
    "tablet.code": "Code made for a tablet",
    "tablet.enrolled": "Tablet enrolled",
    "tablet.revoked": "Tablet ended",
    "tablet.base": "Duty base of a tablet changed",
    "person.made": "Account made",
    "person.changed": "Rights of an account changed",
    "person.disabled": "Account shut",
    "person.enabled": "Account opened again",
    "pack.asked": "Build of a pack asked for",
    "pack.proposed": "Pack proposed",
    "pack.published": "Pack published",
    "pack.dropped": "Proposed pack dropped",
    "pack.withdrawn": "Pack withdrawn",
    "weather.read": "Weather of a line taken in",
    "weather.taken_back": "Weather of a line taken back",
    "weather.worse": "Rail of a line made worse by hand for its weather",
    "weather.columns": "Columns of a weather file named",
    "key.renewed": "Signing key renewed",
    "not_enrolled.set_aside": "Set aside, from tablets not enrolled",
    "not_enrolled.removed": "Removed, from tablets not enrolled",
    "not_enrolled.taken_in": "Taken in for a tablet",
    "report.pared": "Name, words and tablet of a report deleted",
    "depot.tidied": "What was due to go has gone",
    "depot.restored": "Depot restored from a backup",
}
# What of an action's content is worth a line; the whole of it stays in the audit.
TOLD = (
    "outcome",
    "speed",
    "name",
    "place",
    "trains",
    "reason",
    "reports",
    "told_by",
    "reference",
    "result",
    "kind",
    "role",
    "at",
)


@dataclass(frozen=True)
class Change:
    """One action: when, what, about what, by whom."""

    at: datetime
    action: str
    about: str
    who: str


def change(entry: Entry, known: Lines) -> Change:
    """Say what an entry of the audit means."""
    action = ACTIONS.get(entry.what, entry.what.replace(".", ": ").replace("_", " "))
    return Change(entry.at, action, _about(entry, known), entry.who)


def _about(entry: Entry, known: Lines) -> str:
    content = {**_flat(entry.old), **_flat(entry.new)}
    parts = []
    line = content.get("line")
    if line and content.get("from_m") is not None:
        direction = known.direction(str(line), str(content.get("direction")))
        ends = float(content["from_m"]), float(content["to_m"])
        stops = known.places_within(str(line), *ends)
        where = ", ".join(stops) or known.stretch(str(line), *ends)
        parts += [f"{where} ({known.name(str(line))}, {direction})"]
        if content.get("state"):
            parts += [known.state(str(line), str(content["state"]))]
    elif not _is_id(entry.subject):
        parts.append(entry.subject)
    parts += [str(content[name]) for name in TOLD if content.get(name)]
    return "; ".join(parts)


def _flat(content: Any) -> dict[str, Any]:
    return content if isinstance(content, dict) else {}


def _is_id(subject: str) -> bool:
    return len(subject) == 36 and subject.count("-") == 4


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
        waiting=lists.unanswered(session, MOST_REPORTS),
        apart=strangers.waiting(session),
        wheels=[one for one in control.wheels(session, now) if one.check is None],
        gaps=sequence.doubts(session),
        restrictions=restrictions.live(session, now),
        lines=known,
    )


def drafts(session: Session, now: datetime, known: Lines) -> list[LivePlace]:
    """Return warnings that nobody has published yet."""
    rows = [one for one in warnings.listed(session) if one.status == DRAFT]
    return [control.place_of(row, now, known) for row in rows]
