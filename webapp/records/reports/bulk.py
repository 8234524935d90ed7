"""Several reports reviewed together: only such as ask for no decision of their own.

Each is reviewed as if alone, on the version that was read and with its own row in the audit.
What is left out is said, with the reason.
"""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from webapp.records.reports import actions, rank
from webapp.records.reports.models import Report
from webapp.store.edits import Stale

STALE = "somebody did something with it since you opened the list"


@dataclass(frozen=True)
class Pick:
    """One report that was ticked, at the version that was read."""

    id: uuid.UUID
    version: int


@dataclass
class Outcome:
    """Numbers of the reports that were reviewed, and of those left out, by reason."""

    done: list[int] = field(default_factory=list)
    left: dict[str, list[int]] = field(default_factory=dict)


def review(session: Session, picks: Sequence[Pick], who: str, now: datetime) -> Outcome:
    """Review what can be reviewed together; leave the rest as it is.

    Raises
    ------
    actions.NoSuchReport
        If one of them has not arrived; nothing is reviewed then.
    """
    found = Outcome()
    # All in one order first, so that two desks never wait for each other.
    asked = select(Report).where(Report.id.in_({pick.id for pick in picks}))
    held = session.scalars(asked.order_by(Report.server_no).with_for_update())
    rows = {row.id: row for row in held}
    if len(rows) < len({pick.id for pick in picks}):
        raise actions.NoSuchReport("No report with this id has arrived.")
    for pick in picks:
        row = rows[pick.id]
        why = rank.reason_alone(row.item["body"], apart=row.quarantined)
        try:
            if why is None:
                actions.review(session, pick.id, pick.version, who, now)
        except Stale:
            why = STALE
        except actions.Refused as refused:
            why = str(refused).rstrip(".").lower()
        if why is None:
            found.done.append(row.server_no)
        else:
            found.left.setdefault(why, []).append(row.server_no)
    return found
