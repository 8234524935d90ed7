"""Draft, publish, amend and end warnings; every action writes its revision and its audit row.

The signaller opens and ends special working. What is kept here mirrors it: nothing in this
module ends a warning because time went by.
"""

from __future__ import annotations

import dataclasses
import secrets
import uuid
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Select, func, select
from sqlalchemy.orm import Session

from webapp.lines.in_use import bases
from webapp.records.items import Delivery, Kept, Kind
from webapp.records.warnings import receipts, schemas
from webapp.records.warnings.models import Warned, WarningClock, WarningRev
from webapp.records.warnings.typed import Facts, fit
from webapp.store import audit, edits
from webapp.store.edits import Faults, NothingChanged, Stale

DRAFT, PUBLISHED, ENDED = "draft", "published", "ended"
TABLET = "a tablet"
NEWER = "warning.newer"  # noted of a wording that tablets hold and a restore lost
COPIED = (
    *("direction", "datum", "from_m", "to_m", "reason", "from_at", "review_at"),
    *("told_by", "reference"),
)
NOBODY_TOLD = "nobody: the draft was dropped"


class NoSuchWarning(LookupError):
    """No warning has this id."""


def draft(
    session: Session,
    typed: Mapping[str, Any],
    who: str,
    now: datetime,
    name: uuid.UUID,
    report: uuid.UUID | None = None,
) -> Warned:
    """Keep a warning that nobody is told yet, perhaps made from a report.

    Raises
    ------
    Faults
        With every fault of what was typed; nothing is kept then.
    """
    facts = fit(typed, bases(session), now)
    warning = Warned(
        id=name, rev=0, feed_no=None, status=DRAFT, changed_at=now, ended_at=None,
        report_id=report, **dataclasses.asdict(facts),
    )  # fmt: skip
    session.add(warning)
    note = _typed_note(typed)
    return _next(session, warning, who, now, "warning.draft", None, note=note, tell=False)


def publish(session: Session, name: uuid.UUID, rev: int, who: str, now: datetime) -> Warned:
    """Tell it to the tablets."""
    warning = _held(session, name, rev, (DRAFT,))
    before = kept_of(warning)
    warning.status = PUBLISHED
    return _next(session, warning, who, now, "warning.publish", before)


def amend(
    session: Session,
    name: uuid.UUID,
    rev: int,
    changes: Mapping[str, Any],
    who: str,
    now: datetime,
) -> Warned:
    """Change what it says; of a published one the tablets are told the new revision.

    ``changes`` holds only the fields that are typed. Where tablets hold a later wording,
    lost in a restore, the revision goes beyond theirs, since a lower one is old news to them;
    then the warning may also be told again as it stands.
    """
    warning = _held(session, name, rev, (DRAFT, PUBLISHED))
    before, theirs = kept_of(warning), newest_held(session, warning)
    facts = _amended(session, warning, changes, now)
    for field, value in dataclasses.asdict(facts).items():
        setattr(warning, field, value)
    if kept_of(warning) == before and theirs <= warning.rev:
        raise NothingChanged
    warning.rev = max(warning.rev, theirs)
    told, note = warning.status == PUBLISHED, _typed_note(changes)
    return _next(session, warning, who, now, "warning.amend", before, note=note, tell=told)


def end(
    session: Session,
    name: uuid.UUID,
    rev: int,
    told_by: str,
    who: str,
    now: datetime,
    more: Mapping[str, Any] | None = None,
) -> Warned:
    """Take it away, because the signaller said so.

    ``more`` goes into the audit: when that was told, under which reference, which steps
    were missing and why it ended all the same.
    """
    if told_by == NOBODY_TOLD and _by_name(session, name).held_before:
        raise Stale(
            "Tablets hold it from before the depot was restored: it is no mere draft. "
            "Publish it again, then end it as the signaller says."
        )
    if not told_by.strip():
        raise Faults(["told_by: say who ended it, for instance the signaller."])
    warning = _held(session, name, rev, (DRAFT, PUBLISHED))
    before = kept_of(warning)
    published = warning.status == PUBLISHED
    if published:
        receipts.close(session, warning)
    tell = published or warning.held_before
    warning.status, warning.ended_at = ENDED, now
    note = {"told_by": told_by, **(more or {})}
    return _next(session, warning, who, now, "warning.end", before, note=note, tell=tell)


def holders(session: Session, name: uuid.UUID) -> Select[uuid.UUID]:
    """Name the tablets that hold a living warning as it stands.

    Raises
    ------
    NoSuchWarning
        When no warning with this id lives.
    """
    warning = get(session, name)
    if warning is None or warning.status != PUBLISHED:
        raise NoSuchWarning("That warning is not in force any more. Its page has the counts.")
    return receipts.holders(name, warning.rev)


def reports_needed() -> Select[uuid.UUID | None]:
    """Name the reports from which living warnings and drafts were made."""
    living = Warned.status.in_((DRAFT, PUBLISHED)), Warned.report_id.is_not(None)
    return select(Warned.report_id).where(*living)


def made_from(session: Session, report: uuid.UUID) -> list[dict[str, Any]]:
    """Return which warnings were made from a report, for whoever sent it."""
    query = select(Warned).where(Warned.report_id == report).order_by(Warned.changed_at)
    return [{"id": str(one.id), "status": one.status} for one in session.scalars(query)]


def locked(session: Session, name: uuid.UUID, rev: int) -> Warned:
    """Lock a published warning that was read at this revision, before it is judged."""
    return _held(session, name, rev, (PUBLISHED,))


def drop(session: Session, name: uuid.UUID, rev: int, who: str, now: datetime) -> Warned:
    """End a draft that nobody was told of."""
    _held(session, name, rev, (DRAFT,))
    return end(session, name, rev, NOBODY_TOLD, who, now)


def listed(session: Session, *, ended: bool = False) -> list[Warned]:
    """Return the warnings in force and the drafts, oldest first; also the ended on request."""
    query = select(Warned).order_by(Warned.from_at, Warned.id)
    if not ended:
        query = query.where(Warned.status != ENDED)
    return list(session.scalars(query))


def get(session: Session, name: uuid.UUID) -> Warned | None:
    """Return one warning as it stands, ended or not."""
    return session.get(Warned, name)


def kept_of(warning: Warned) -> dict[str, Any]:
    """Return what the audit says of a warning: more than the tablets are told."""
    return {**body_of(warning), "told_at": _moment(warning.told_at)}


def _typed_note(typed: Mapping[str, Any]) -> dict[str, Any]:
    """Keep a typed adhesion in the audit, since the state took its place."""
    adhesion = typed.get("adhesion")
    return {} if adhesion is None else {"typed_adhesion": adhesion}


def body_of(warning: Warned) -> dict[str, Any]:
    """Return what a revision says, as JSON. Of an ended one only that it ended."""
    if warning.status == ENDED:
        return {
            "status": ENDED,
            "line": warning.line_key,
            "direction": warning.direction,
            "ended_at": _moment(warning.ended_at),
        }
    return {
        "status": warning.status,
        "line": warning.line_key,
        "direction": warning.direction,
        "datum": warning.datum,
        "from_m": warning.from_m,
        "to_m": warning.to_m,
        "state": warning.plan_state,
        "reason": warning.reason,
        "from_at": _moment(warning.from_at),
        "review_at": _moment(warning.review_at),
        "told_by": warning.told_by,
        "reference": warning.reference,
    }


def _keep_receipt(
    session: Session,
    delivery: Delivery,
    checked: dict[str, Any],
    raw: dict[str, Any],
    payload_sha: str,
) -> Kept:
    """Take a receipt in, and what it says of warnings that this depot did not name."""
    kept = receipts.keep(session, delivery, checked, raw, payload_sha)
    if kept.new and delivery.device_id is not None and delivery.enrolled:
        for one in checked["body"]["before"]:
            _held_by_a_tablet(session, one, delivery.received_at)
    return kept


RECEIPTS = Kind(schemas.ReceiptItem(), _keep_receipt)


def _held_by_a_tablet(session: Session, held: Mapping[str, Any], now: datetime) -> None:
    """Bring a warning that was lost in a restore before a person at the desk.

    It is a draft until somebody publishes it again: no tablet's word alone warns all others.
    One that is known to have ended has its end told once more.
    """
    known = edits.locked(session, Warned, held["id"])
    if known is not None:
        if known.status == ENDED and not known.held_before:
            before, known.held_before = kept_of(known), True
            _next(session, known, TABLET, now, "warning.held", before)
        elif known.status == PUBLISHED and held["rev"] > known.rev:
            _newer_words(session, known, held, now)
        return
    facts = {name: held[name] for name in COPIED}
    warning = Warned(
        id=held["id"], rev=held["rev"], feed_no=None, status=DRAFT, changed_at=now,
        ended_at=None, held_before=True, line_key=held["line"], plan_state=held["state"],
        **facts,
    )  # fmt: skip
    session.add(warning)
    _next(session, warning, TABLET, now, "warning.held", None, tell=False)


def _newer_words(
    session: Session, known: Warned, held: Mapping[str, Any], now: datetime
) -> None:
    """Note once what was amended and lost: tablets go on with that until it is told again."""
    new = {**{name: held[name] for name in COPIED}, "rev": held["rev"]}
    new |= {"line_key": held["line"], "plan_state": held["state"]}
    if held["rev"] > newest_held(session, known):
        shown = {name: value for name, value in new.items() if not isinstance(value, datetime)}
        audit.record(session, now, TABLET, NEWER, str(known.id), kept_of(known), shown)


def newest_held(session: Session, warning: Warned) -> int:
    """Return the last revision that tablets said they hold and a restore lost here; else 0."""
    entries = audit.of(session, str(warning.id))
    return max((one.new["rev"] for one in entries if one.what == NEWER), default=0)


def held_before(session: Session) -> int:
    """Return how many warnings tablets hold from before a restore, not settled at the desk."""
    unsettled = Warned.status == DRAFT, Warned.held_before
    return session.scalar(select(func.count()).select_from(Warned).where(*unsettled)) or 0


def _by_name(session: Session, name: uuid.UUID) -> Warned:
    warning = session.get(Warned, name)
    if warning is None:
        raise NoSuchWarning(
            f"no warning has the id {name}. `step-in-hand warning list` shows them."
        )
    return warning


def _moment(value: datetime | None) -> str | None:
    if value is None:
        return None
    return value.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")


def _held(session: Session, name: uuid.UUID, rev: int, statuses: tuple[str, ...]) -> Warned:
    """Lock the warning, and refuse if it is not the one that was read."""
    warning = edits.locked(session, Warned, name)
    if warning is None:
        raise NoSuchWarning(
            f"no warning has the id {name}. `step-in-hand warning list` shows them."
        )
    if warning.rev != rev:
        raise Stale(
            f"warning {name} is at revision {warning.rev} now, not {rev}: someone changed it. "
            "Read it again with `step-in-hand warning list`, then decide."
        )
    if warning.status not in statuses:
        raise Stale(f"warning {name} is {warning.status} already. Nothing was changed.")
    return warning


def _amended(
    session: Session, warning: Warned, changes: Mapping[str, Any], now: datetime
) -> Facts:
    """Check the whole again, with what was not typed as it is kept."""
    typed = {
        "line": warning.line_key,
        "direction": warning.direction,
        "state": None if "adhesion" in changes else warning.plan_state,
        "reason": warning.reason,
        "from_at": _moment(warning.from_at),
        "review_at": _moment(warning.review_at),
        "told_by": warning.told_by,
        "reference": warning.reference,
        "told_at": _moment(warning.told_at),
        **changes,
    }
    return fit(typed, bases(session), now, (warning.datum, warning.from_m, warning.to_m))


def _next(
    session: Session,
    warning: Warned,
    who: str,
    now: datetime,
    what: str,
    before: dict[str, Any] | None,
    *,
    note: dict[str, Any] | None = None,
    tell: bool = True,
) -> Warned:
    """Keep the next revision; one that tablets shall hear of takes the next feed number."""
    warning.rev += 1
    warning.changed_at = now
    if tell:
        clock = session.scalars(select(WarningClock).with_for_update()).one()
        clock.n += 1
        warning.feed_no = clock.n
    session.flush()
    body, kept = body_of(warning), kept_of(warning)
    session.add(
        WarningRev(
            warning_id=warning.id,
            rev=warning.rev,
            feed_no=warning.feed_no if tell else None,
            mark=secrets.token_hex(8),
            at=now,
            body=body,
        )
    )
    audit.record(session, now, who, what, str(warning.id), before, {**kept, **(note or {})})
    session.flush()
    return warning
