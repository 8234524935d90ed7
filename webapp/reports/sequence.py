"""What each tablet's numbers 1, 2, 3 … say: reports that never came, numbers used twice."""

from __future__ import annotations

import uuid
from dataclasses import dataclass

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from webapp.reports.models import Report
from webapp.tablets import service as tablets

MOST_SHOWN = 20
UNKNOWN = "unknown tablet"


@dataclass(frozen=True)
class Doubt:
    """One thing about a tablet that a person should look at."""

    kind: str  # "missing", "used twice" or "started again"
    tablet: str
    install_id: uuid.UUID | None
    first: int
    last: int


@dataclass(frozen=True)
class _Found:
    kind: str
    device_id: uuid.UUID | None
    install_id: uuid.UUID | None
    first: int
    last: int


def doubts(session: Session) -> list[Doubt]:
    """Return gaps, clashes and new starts per (device, install); at most 20 of each kind."""
    found = [*_missing(session), *_used_twice(session), *_started_again(session)]
    names = tablets.labels(session, {entry.device_id for entry in found if entry.device_id})
    return [
        Doubt(
            entry.kind,
            names.get(entry.device_id, "unknown tablet")
            if entry.device_id
            else "unknown tablet",
            entry.install_id,
            entry.first,
            entry.last,
        )
        for entry in found
    ]


def _missing(session: Session) -> list[_Found]:
    before = func.lag(Report.seq, 1, 0).over(
        partition_by=(Report.device_id, Report.install_id), order_by=Report.seq
    )
    steps = select(
        Report.device_id, Report.install_id, Report.seq, before.label("before")
    ).subquery()
    query = (
        select(steps)
        .where(steps.c.seq - steps.c.before > 1)
        .order_by(steps.c.device_id, steps.c.install_id, steps.c.seq)
        .limit(MOST_SHOWN)
    )
    return [
        _Found("missing", row.device_id, row.install_id, row.before + 1, row.seq - 1)
        for row in session.execute(query)
    ]


def _used_twice(session: Session) -> list[_Found]:
    key = (Report.device_id, Report.install_id, Report.seq)
    query = (
        select(*key).group_by(*key).having(func.count() > 1).order_by(*key).limit(MOST_SHOWN)
    )
    return [
        _Found("used twice", row.device_id, row.install_id, row.seq, row.seq)
        for row in session.execute(query)
    ]


def _started_again(session: Session) -> list[_Found]:
    installs = func.count(Report.install_id.distinct())
    query = (
        select(Report.device_id, installs.label("installs"))
        .where(Report.device_id.is_not(None))
        .group_by(Report.device_id)
        .having(installs > 1)
        .order_by(Report.device_id)
        .limit(MOST_SHOWN)
    )
    return [
        _Found("started again", row.device_id, None, 1, row.installs)
        for row in session.execute(query)
    ]
