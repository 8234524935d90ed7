"""What each tablet's numbers 1, 2, 3 … say: reports that never came, numbers used twice.

A number that was refused here is not missing: its report lies parked on the tablet, and the
desk is told which it is. A number that the tablet parked by itself is missing here.
"""

from __future__ import annotations

import json
import uuid
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Any

from sqlalchemy import (
    ColumnElement,
    Select,
    and_,
    exists,
    func,
    literal,
    select,
    union,
    union_all,
)
from sqlalchemy.orm import Session, aliased

from webapp.plain.fields import EARLIEST, fault_sentences
from webapp.records import tablets
from webapp.records.reports.models import ClosedNumber, Refusal, Report

MOST_SHOWN = 20
#: How far back the numbers are read, from the newest report on. Our own choice: a report that
#: has not come in five weeks is not on its way, and no page may read every number there is.
READ_BACK = timedelta(days=35)
#: The store of every anonymised report: its own one would tell the tablet.
NOBODYS = uuid.UUID(int=0)
UNKNOWN = "unknown tablet"
Store = tuple[uuid.UUID | None, uuid.UUID]
Asked = Select[*tuple[Any, ...]]


def _why(code: str, reason: str) -> str:
    """Write for a person why a report was refused; cut short, it stays as it is."""
    try:
        faults = fault_sentences(json.loads(reason))
    except ValueError:
        faults = [reason]
    # A field's name may hold half a character, which no page can be written with.
    return " ".join([f"{code}.", *faults]).encode("utf-8", "backslashreplace").decode()


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
class _Store:
    """One store of one tablet: when it was heard, and its highest number."""

    device_id: uuid.UUID | None
    install_id: uuid.UUID
    highest: int
    began: datetime
    ended: datetime


def doubts(session: Session, device_id: uuid.UUID | None = None) -> list[Doubt]:
    """Return what is doubtful per (device, install), newest first; at most 20 of each kind.

    Only what arrived in the `READ_BACK` before the newest report is looked at, each number by
    its place in the index. With a device, it alone is looked at.
    """
    newest = session.scalar(select(func.max(Report.received_at)))
    found = _refused(session, device_id)
    if newest is not None:
        since = _back(newest)
        found = [
            *_missing(session, since, device_id),
            *found,
            *_used_twice(session, since, device_id),
            *_started_again(_stores(session, device_id)),
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


def _back(newest: datetime) -> datetime:
    return newest - READ_BACK if newest - EARLIEST > READ_BACK else EARLIEST


def _stores(session: Session, device_id: uuid.UUID | None) -> list[_Store]:
    """Return the stores of tablets that have more than one; their numbers alone are read."""
    ends = (
        select(Report.install_id)
        .where(Report.device_id == tablets.own_id())
        .order_by(end)
        .limit(1)
        .scalar_subquery()
        for end in (Report.install_id, Report.install_id.desc())
    )
    first, last = ends
    # Asked first: PostgreSQL takes the inner question for most tablets and walks all reports.
    several = session.scalars(tablets.every(device_id).where(first != last)).all()
    if not several:
        return []
    query = (
        select(
            *(Report.device_id, Report.install_id, func.max(Report.seq)),
            *(func.min(Report.received_at), func.max(Report.received_at)),
        )
        .where(Report.device_id.in_(several))
        .group_by(Report.device_id, Report.install_id)
    )
    return [_Store(*row) for row in session.execute(query)]


def _recent(
    of: Asked, since: datetime, device_id: uuid.UUID | None, *, enrolled: bool
) -> Asked:
    """Narrow to the newest of one tablet, of enrolled ones or of strangers."""
    query = of.where(Report.received_at >= since, Report.install_id != NOBODYS)
    if device_id is not None:
        query = query.where(Report.device_id == device_id)
    known = Report.device_id.is_not(None) if enrolled else Report.device_id.is_(None)
    newest = Report.received_at.desc(), Report.id.desc()
    # Twice as many: a number that came twice stands here twice.
    return query.where(known).order_by(*newest).limit(2 * MOST_SHOWN)


def _in_store(other: Any, *, enrolled: bool) -> ColumnElement[bool]:
    """Match the rows of the same store; strangers have no device to compare."""
    same = other.device_id == Report.device_id if enrolled else other.device_id.is_(None)
    return and_(same, other.install_id == Report.install_id)


def _newest_first(
    ask: Callable[..., Asked],
    session: Session,
    since: datetime,
    device_id: uuid.UUID | None,
) -> list[Any]:
    """Ask for enrolled tablets first: a stranger's numbers must not push theirs off."""
    parts = [
        _recent(ask(enrolled=enrolled), since, device_id, enrolled=enrolled).subquery()
        for enrolled in (True, False)
    ]
    query = union_all(*(select(literal(n).label("rank"), p) for n, p in enumerate(parts)))
    rows = list(session.execute(query))
    rows.sort(key=lambda row: (-row.rank, row.received_at, row.seq))
    # The newest of each number was put in last.
    once = {(row.device_id, row.install_id, row.seq): row for row in rows}
    order = sorted(once.values(), key=lambda row: (-row.rank, row.received_at, row.seq))
    return order[::-1][:MOST_SHOWN]


def _after_a_gap(*, enrolled: bool) -> Asked:
    """Name the reports whose own number came, and the one before it not."""
    other = aliased(Report)
    here = _in_store(other, enrolled=enrolled)
    before = select(func.max(other.seq)).where(here, other.seq < Report.seq).scalar_subquery()
    last = before.correlate(Report)
    query = select(
        *(Report.device_id, Report.install_id, Report.seq, Report.received_at),
        func.coalesce(last, 0).label("before"),
    )
    return query.where(Report.seq > 1, ~exists().where(here, other.seq == Report.seq - 1))


def _came_again(*, enrolled: bool) -> Asked:
    """Name the reports whose number another one has too."""
    other = aliased(Report)
    twin = and_(_in_store(other, enrolled=enrolled), other.seq == Report.seq)
    query = select(Report.device_id, Report.install_id, Report.seq, Report.received_at)
    return query.where(exists().where(twin, other.server_no != Report.server_no))


def _missing(session: Session, since: datetime, device_id: uuid.UUID | None) -> list[_Found]:
    gaps = _newest_first(_after_a_gap, session, since, device_id)
    parked = _parked(session, {gap.install_id for gap in gaps}) if gaps else {}
    found = []
    for gap in gaps:
        where = (gap.device_id, gap.install_id)
        for first, last in _without(gap.before + 1, gap.seq - 1, parked.get(where, [])):
            found.append(_Found("missing", *where, first, last, gap.received_at))
    return found[:MOST_SHOWN]


def _parked(session: Session, installs: set[uuid.UUID]) -> dict[Store, list[int]]:
    """Return the numbers that came and are not here as such, rising, by (device, install).

    They were refused, or their reports were anonymised since.
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
            _why(row.code, row.reason),
        )
        for row in session.scalars(query)
    ]


def _used_twice(
    session: Session, since: datetime, device_id: uuid.UUID | None
) -> list[_Found]:
    return [
        _Found("used twice", row.device_id, row.install_id, row.seq, row.seq, row.received_at)
        for row in _newest_first(_came_again, session, since, device_id)
    ]


def _started_again(stores: list[_Store]) -> list[_Found]:
    """Compare each store of a tablet with the one before it, in order of first delivery.

    The earlier one is silent from then on if it was wiped. If it speaks again, both live.
    """
    stores.sort(key=lambda one: (str(one.device_id), one.began, str(one.install_id)))
    found = []
    for former, later in pairwise(stores):
        if former.device_id == later.device_id:
            kind = "started again" if former.ended <= later.began else "two stores"
            where = (later.device_id, later.install_id)
            found.append(_Found(kind, *where, former.highest, former.highest, later.began))
    return sorted(found, key=lambda entry: entry.at, reverse=True)[:MOST_SHOWN]
