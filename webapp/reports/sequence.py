"""What each tablet's numbers 1, 2, 3 … say: reports that never came, numbers used twice.

A number that was refused here is not missing: its report lies parked on the tablet, and the
desk is told which it is. A number that the tablet parked by itself is missing here.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

from sqlalchemy import ColumnElement, and_, exists, func, select, union
from sqlalchemy.orm import Session

from webapp.reports.models import ClosedNumber, Refusal, Report
from webapp.tablets import service as tablets

MOST_SHOWN = 20
#: The store of every pared report: its own one would tell the tablet.
NOBODYS = uuid.UUID(int=0)
UNKNOWN = "unknown tablet"
Store = tuple[uuid.UUID | None, uuid.UUID]


@dataclass(frozen=True)
class Doubt:
    """One thing about a tablet that a person should look at."""

    kind: str  # "missing", "refused", "used twice", "started again" or "two stores"
    tablet: str
    install_id: uuid.UUID
    first: int
    last: int
    at: datetime  # when it showed
    words: str = ""


@dataclass(frozen=True)
class _Found:
    kind: str
    device_id: uuid.UUID | None
    install_id: uuid.UUID
    first: int
    last: int
    at: datetime
    words: str = ""


@dataclass(frozen=True)
class _Numbers:
    """One store of one tablet: how its numbers stand."""

    device_id: uuid.UUID | None
    install_id: uuid.UUID
    n: int
    distinct: int
    highest: int
    began: datetime
    ended: datetime


def doubts(session: Session, device_id: uuid.UUID | None = None) -> list[Doubt]:
    """Return what is doubtful per (device, install), newest first; at most 20 of each kind.

    One question reads the numbers alone, out of their index, and names the stores that need
    a closer look; only their rows are then read. With a device, it alone is looked at.
    """
    stores = _stores(session, device_id)
    gaps = {one.install_id for one in stores if one.distinct < one.highest}
    twice = {one.install_id for one in stores if one.distinct < one.n}
    found = [
        *(_missing(session, gaps, device_id) if gaps else []),
        *_refused(session, device_id),
        *(_used_twice(session, twice, device_id) if twice else []),
        *_started_again(stores),
    ]
    names = tablets.labels(session, {entry.device_id for entry in found if entry.device_id})
    return [
        Doubt(
            entry.kind,
            names.get(entry.device_id, UNKNOWN) if entry.device_id else UNKNOWN,
            entry.install_id,
            entry.first,
            entry.last,
            entry.at,
            entry.words,
        )
        for entry in found
    ]


def _stores(session: Session, device_id: uuid.UUID | None) -> list[_Numbers]:
    key = (Report.device_id, Report.install_id)
    query = (
        select(
            *key,
            func.count().label("n"),
            func.count(Report.seq.distinct()).label("distinct"),
            func.max(Report.seq).label("highest"),
            func.min(Report.received_at).label("began"),
            func.max(Report.received_at).label("ended"),
        )
        .where(Report.install_id != NOBODYS)
        .group_by(*key)
    )
    if device_id is not None:
        query = query.where(Report.device_id == device_id)
    return [_Numbers(*row) for row in session.execute(query)]


def _missing(
    session: Session, installs: set[uuid.UUID], device_id: uuid.UUID | None
) -> list[_Found]:
    before = func.lag(Report.seq, 1, 0).over(
        partition_by=(Report.device_id, Report.install_id), order_by=Report.seq
    )
    numbers = select(
        *(Report.device_id, Report.install_id, Report.seq, Report.received_at),
        before.label("before"),
    ).where(*_of(Report, installs, device_id))
    steps = numbers.subquery()
    query = (
        select(steps)
        .where(steps.c.seq - steps.c.before > 1)
        # Enrolled tablets first: a stranger's numbers must not push theirs off the page.
        .order_by(steps.c.device_id.is_(None), steps.c.received_at.desc(), steps.c.seq.desc())
        .limit(MOST_SHOWN)
    )
    gaps = session.execute(query).all()
    parked = _parked(session, {gap.install_id for gap in gaps}) if gaps else {}
    found = []
    for gap in gaps:
        where = (gap.device_id, gap.install_id)
        for first, last in _without(gap.before + 1, gap.seq - 1, parked.get(where, [])):
            found.append(_Found("missing", *where, first, last, gap.received_at))
    return found[:MOST_SHOWN]


def _of(
    table: type[Report] | type[Refusal], installs: set[uuid.UUID], device: uuid.UUID | None
) -> list[ColumnElement[bool]]:
    """Return the condition that a row is of one of these stores."""
    own: list[ColumnElement[bool]] = [table.install_id.in_(installs)]
    return own if device is None else [*own, table.device_id == device]


def _parked(session: Session, installs: set[uuid.UUID]) -> dict[Store, list[int]]:
    """Return the numbers that came and are not here as such, rising, by (device, install).

    They were refused, or their reports were pared since.
    """
    refused, closed = (
        select(table.device_id, table.install_id, table.seq).where(
            table.install_id.in_(installs)
        )
        for table in (Refusal, ClosedNumber)
    )
    found: dict[Store, list[int]] = {}
    for device, install, seq in session.execute(union(refused, closed).order_by("seq")):
        found.setdefault((device, install), []).append(seq)
    return found


def _without(first: int, last: int, taken: list[int]) -> Iterator[tuple[int, int]]:
    """Split a range at the numbers that are taken, which rise."""
    inside = [number for number in taken if first <= number <= last]
    for before, after in pairwise([first - 1, *inside, last + 1]):
        if after - before > 1:
            yield before + 1, after - 1


def _refused(session: Session, device_id: uuid.UUID | None) -> list[_Found]:
    """Return refusals that still stand: the report was not taken later as it was sent."""
    taken = exists().where(
        and_(Report.id == Refusal.id, Report.payload_sha == Refusal.payload_sha)
    )
    query = (
        select(Refusal)
        .where(~taken)
        .order_by(Refusal.device_id.is_(None), Refusal.refused_at.desc(), Refusal.seq.desc())
        .limit(MOST_SHOWN)
    )
    if device_id is not None:
        query = query.where(Refusal.device_id == device_id)
    return [
        _Found(
            *("refused", row.device_id, row.install_id, row.seq, row.seq, row.refused_at),
            f"{row.code} {row.reason}" if row.reason != "{}" else row.code,
        )
        for row in session.scalars(query)
    ]


def _used_twice(
    session: Session, installs: set[uuid.UUID], device_id: uuid.UUID | None
) -> list[_Found]:
    key = (Report.device_id, Report.install_id, Report.seq)
    newest = func.max(Report.received_at).label("newest")
    query = (
        select(*key, newest)
        .where(*_of(Report, installs, device_id))
        .group_by(*key)
        .having(func.count() > 1)
        .order_by(Report.device_id.is_(None), newest.desc(), Report.seq.desc())
        .limit(MOST_SHOWN)
    )
    return [
        _Found("used twice", row.device_id, row.install_id, row.seq, row.seq, row.newest)
        for row in session.execute(query)
    ]


def _started_again(stores: list[_Numbers]) -> list[_Found]:
    """Compare each store of a tablet with the one before it, in order of first arrival.

    The earlier one is silent from then on if it was wiped. If it speaks again, both live.
    """
    known = [one for one in stores if one.device_id is not None]
    known.sort(key=lambda one: (str(one.device_id), one.began, str(one.install_id)))
    found = []
    for former, later in pairwise(known):
        if former.device_id == later.device_id:
            kind = "started again" if former.ended <= later.began else "two stores"
            where = (later.device_id, later.install_id)
            found.append(_Found(kind, *where, former.highest, former.highest, later.began))
    return sorted(found, key=lambda entry: entry.at, reverse=True)[:MOST_SHOWN]
