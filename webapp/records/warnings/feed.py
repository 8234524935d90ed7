"""What tablets are told of warnings: the whole each time, named by a number.

A number is taken under the row lock of `warning_clock`, which is held until COMMIT, and
every change that tablets shall hear of takes one: the same epoch, number and mark mean the
same whole.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from webapp.records.warnings.models import Warned, WarningClock, WarningRev
from webapp.store import depot

PUBLISHED = "published"


@dataclass(frozen=True)
class State:
    """Which state of the warnings that is; `mark` is random for each number.

    An older copy that was put back and published on may come to the same number again, and
    only the mark tells. What a tablet says that it holds has the same three.
    """

    feed_no: int
    mark: str
    epoch: str


def state(session: Session) -> State:
    """Return the state the depot is in."""
    return _at(session, session.scalars(select(WarningClock.n)).one())


def whole(session: Session) -> tuple[State, list[dict[str, Any]]]:
    """Return all that is in force, in the order of the numbers, and the state it is of.

    An end is told only of what tablets may hold from before a restore: of all else it is
    enough that it is missing.
    """
    # Before the items: whatever is committed between the two is sent again next time.
    known = session.scalars(select(WarningClock.n)).one()
    query = (
        select(WarningRev)
        .join(
            Warned,
            (Warned.id == WarningRev.warning_id) & (Warned.feed_no == WarningRev.feed_no),
        )
        .where(or_(Warned.status == PUBLISHED, Warned.held_before))
        .order_by(WarningRev.feed_no)
    )
    found = list(session.scalars(query))
    here = _at(session, max([known, *(rev.feed_no or 0 for rev in found[-1:])]))
    items = [
        {"id": str(rev.warning_id), "rev": rev.rev, "feed_no": rev.feed_no, **rev.body}
        for rev in found
    ]
    return here, items


def is_past(session: Session, held: State, here: State) -> bool:
    """Whether what a tablet holds was told in the history that the depot is in.

    If not, an older copy was put back: what the whole does not name may be missing here alone.
    """
    if held.epoch and here.epoch and held.epoch != here.epoch:
        return False
    if held.feed_no > here.feed_no:
        return False
    return held.mark in ("", _at(session, held.feed_no).mark)


def _at(session: Session, feed_no: int) -> State:
    mark = session.scalar(select(WarningRev.mark).where(WarningRev.feed_no == feed_no))
    epoch = depot.epoch(session)
    return State(feed_no, mark or "", epoch.name if epoch else "")
