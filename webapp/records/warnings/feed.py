"""The delta feed: what changed since a number, safe against commits out of order.

A feed number is taken under the row lock of `warning_clock`, which is held until COMMIT. Who
waits for the lock takes the higher number later, so a number that can be seen has none below
it that cannot.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Select, exists, or_, select
from sqlalchemy.orm import Session

from webapp.records.warnings.models import Warned, WarningClock, WarningRev
from webapp.store import depot

PAGE = 100
ENDED, PUBLISHED = "ended", "published"


class Refresh(Exception):
    """A cursor from which no delta can be given: the tablet must take the whole again."""

    code = "full_refresh"


class Restored(Refresh):
    """The cursor is of another history: what is not in the whole may be missing here alone."""

    code = "restored"


@dataclass(frozen=True)
class Page:
    """Items in the order of their numbers; the next question is `since` this `feed_no`."""

    feed_no: int
    mark: str
    items: list[dict[str, Any]]
    more: bool
    epoch: str = ""


def page(
    session: Session,
    since: int,
    mark: str,
    now: datetime,
    keep: timedelta,
    most: int = PAGE,
    *,
    epoch: str = "",
    restored: bool = False,
) -> Page:
    """Return what changed after ``since``; everything in force, in one page, for 0.

    ``epoch`` is the history that the tablet holds its number of. With ``restored`` the whole
    says also what ended: the tablet keeps what it does not name.

    Raises
    ------
    Refresh
        If ``since`` is ahead of this server or of another history (a backup was restored),
        or older than the tombstones that are kept.
    """
    here = depot.epoch(session)
    found = _found(
        session,
        since,
        mark,
        now - keep,
        most,
        restored=restored,
        other=bool(epoch and here and epoch != here.name),
    )
    return replace(found, epoch=here.name if here else "")


def _found(
    session: Session,
    since: int,
    mark: str,
    horizon: datetime,
    most: int,
    *,
    restored: bool,
    other: bool,
) -> Page:
    # Before the items: whatever is committed between the two is sent again next time.
    known = session.scalars(select(WarningClock.n)).one()
    if since == 0:
        # What tablets may hold from another history is never left out of the whole.
        told = or_(Warned.status == PUBLISHED, Warned.held_before)
        if restored:
            told = or_(told, Warned.ended_at >= horizon)
        return _page(session, known, _changed(since).where(told), None)
    if other:
        raise Restored("This depot was put back to an older state since.")
    _refuse_unfit(session, since, mark, known, horizon)
    return _page(session, known, _changed(since), most)


def _changed(since: int) -> Select[WarningRev]:
    """Return the newest revision of each warning that changed."""
    return (
        select(WarningRev)
        .join(
            Warned,
            (Warned.id == WarningRev.warning_id) & (Warned.feed_no == WarningRev.feed_no),
        )
        .where(WarningRev.feed_no > since)
        .order_by(WarningRev.feed_no)
    )


def _refuse_unfit(
    session: Session, since: int, mark: str, known: int, horizon: datetime
) -> None:
    if since > known or (mark and mark != _mark(session, since)):
        raise Restored("This server does not know that number: its data was restored.")
    dropped = exists().where(
        Warned.status == ENDED, Warned.feed_no > since, Warned.ended_at < horizon
    )
    if session.scalar(select(dropped)):
        raise Refresh("That number is older than the ended warnings kept here.")


def _page(session: Session, known: int, query: Select[WarningRev], most: int | None) -> Page:
    found = list(session.scalars(query if most is None else query.limit(most + 1)))
    more = most is not None and len(found) > most
    sent = found[:most] if more else found
    last = sent[-1].feed_no if sent else None
    feed_no = (last or known) if more else max(known, last or 0)
    return Page(feed_no, _mark(session, feed_no), [_item(rev) for rev in sent], more)


def _mark(session: Session, feed_no: int) -> str:
    found = session.scalar(select(WarningRev.mark).where(WarningRev.feed_no == feed_no))
    return found or ""


def _item(rev: WarningRev) -> dict[str, Any]:
    return {"id": str(rev.warning_id), "rev": rev.rev, "feed_no": rev.feed_no, **rev.body}
