"""What tablets say they hold: packs, warnings they took in, warnings a Brief has shown.

A receipt is no signature. While a warning lives the desk sees which tablets still lack it;
in the moment it ends the rows of single tablets go, and counts by duty base stay.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Select, delete, func, select
from sqlalchemy.orm import Session

from webapp.lines import in_use
from webapp.lines.base import Base, line_name, name_of, unit_of
from webapp.lines.posts import stretch_along
from webapp.records import tablets
from webapp.records.items import Delivery, Kept
from webapp.records.warnings.models import ReceiptItem, Warned, WarningReach, WarningReceipt
from webapp.store.db import insert_new

PUBLISHED = "published"
# A repeat comes within minutes; after this time its id is forgotten, and it would do no harm.
REMEMBERED = timedelta(days=30)


@dataclass(frozen=True)
class Reach:
    """How far a warning came, in tablets that are in use."""

    tablets: int
    received: int
    seen: int

    @property
    def lacking(self) -> int:
        return self.tablets - self.received


@dataclass(frozen=True)
class BaseReach:
    """The same by duty base, as it stays after the end."""

    base: str
    reach: Reach


@dataclass(frozen=True)
class Said:
    """What one tablet said of one living warning."""

    received_rev: int
    received_at: datetime
    seen_rev: int | None
    seen_at: datetime | None


def keep(
    session: Session,
    delivery: Delivery,
    checked: dict[str, Any],
    _raw: dict[str, Any],
    payload_sha: str,
) -> Kept:
    """Take a receipt of an enrolled tablet in once."""
    now = delivery.received_at
    session.execute(delete(ReceiptItem).where(ReceiptItem.received_at < now - REMEMBERED))
    row = {"id": checked["id"], "payload_sha": payload_sha, "received_at": now}
    if insert_new(session, ReceiptItem, row, key="id", answer="id") is None:
        known = session.get_one(ReceiptItem, checked["id"])
        return Kept(None, known.received_at, known.payload_sha, new=False)
    if delivery.device_id is not None:
        body = checked["body"]
        packs = {pack["route"]: pack["pack"] for pack in body["packs"]}
        tablets.holds(session, delivery.device_id, packs, now)
        _note(
            session, delivery.device_id, _newest(body["received"]), _newest(body["seen"]), now
        )
    return Kept(None, now, payload_sha, new=True)


def _newest(said: Iterable[Mapping[str, Any]]) -> dict[uuid.UUID, int]:
    found: dict[uuid.UUID, int] = {}
    for one in said:
        found[one["warning"]] = max(one["rev"], found.get(one["warning"], 0))
    return found


def _note(
    session: Session,
    device: uuid.UUID,
    received: dict[uuid.UUID, int],
    seen: dict[uuid.UUID, int],
    now: datetime,
) -> None:
    """Raise the revisions; the tablet's own row is locked, so nobody else writes here.

    A warning is locked against its end, which would leave a row behind. What is over, or
    names a revision this depot never made, is left out.
    """
    ids = received.keys() | seen.keys()
    query = (
        select(Warned.id, Warned.rev)
        .where(Warned.id.in_(ids), Warned.status == PUBLISHED)
        .order_by(Warned.id)
        .with_for_update(read=True)
    )
    live = {row.id: row.rev for row in session.execute(query)}
    there = {
        row.warning_id: row
        for row in session.scalars(
            select(WarningReceipt).where(
                WarningReceipt.device_id == device, WarningReceipt.warning_id.in_(live)
            )
        )
    }
    for name, rev in live.items():
        saw = _upto(rev, seen.get(name))
        took = max(_upto(rev, received.get(name)) or 0, saw or 0)
        if took:
            _raise(session, there.get(name), (name, device), took, saw, now)


def _upto(rev: int, said: int | None) -> int | None:
    return said if said is not None and said <= rev else None


def _raise(
    session: Session,
    row: WarningReceipt | None,
    key: tuple[uuid.UUID, uuid.UUID],
    took: int,
    saw: int | None,
    now: datetime,
) -> None:
    if row is None:
        row = WarningReceipt(
            warning_id=key[0], device_id=key[1], received_rev=took, received_at=now
        )
        session.add(row)
    elif took > row.received_rev:
        row.received_rev, row.received_at = took, now
    if saw is not None and saw > (row.seen_rev or 0):
        row.seen_rev, row.seen_at = saw, now


def holders(name: uuid.UUID, rev: int) -> Select[uuid.UUID]:
    """Return the tablets that took this revision of a warning in."""
    return select(WarningReceipt.device_id).where(
        WarningReceipt.warning_id == name, WarningReceipt.received_rev >= rev
    )


def reach(session: Session, warnings: Sequence[Warned]) -> dict[uuid.UUID, Reach]:
    """Return how far some warnings came: of a living one now, of an ended one as it ended."""
    live = [one.id for one in warnings if one.status == PUBLISHED]
    ended = [one.id for one in warnings if one.status not in (PUBLISHED, "draft")]
    found: dict[uuid.UUID, Reach] = {}
    if live:
        enrolled = tablets.count_in_use(session)
        found = {name: Reach(enrolled, 0, 0) for name in live}
        for row in session.execute(_counted(live)):
            found[row.id] = Reach(enrolled, row.received, row.seen or 0)
    if ended:
        sums = (func.sum(column) for column in _SUMS)
        query = (
            select(WarningReach.warning_id, *sums)
            .where(WarningReach.warning_id.in_(ended))
            .group_by(WarningReach.warning_id)
        )
        found |= {row[0]: Reach(*map(int, row[1:])) for row in session.execute(query)}
    return found


_SUMS = (WarningReach.tablets, WarningReach.received, WarningReach.seen)


def _counted(ids: Sequence[uuid.UUID]) -> Select[uuid.UUID, int, int]:
    """Count the receipts for the revision that stands, of tablets in use."""
    seen = func.count().filter(func.coalesce(WarningReceipt.seen_rev, 0) >= Warned.rev)
    return (
        select(Warned.id, func.count().label("received"), seen.label("seen"))
        .join(WarningReceipt, WarningReceipt.warning_id == Warned.id)
        .where(Warned.id.in_(ids), WarningReceipt.received_rev >= Warned.rev)
        .where(WarningReceipt.device_id.in_(tablets.in_use()))
        .group_by(Warned.id)
    )


def said(
    session: Session, name: uuid.UUID, devices: Iterable[uuid.UUID]
) -> dict[uuid.UUID, Said]:
    """Return what some tablets said of a living warning."""
    query = select(WarningReceipt).where(
        WarningReceipt.warning_id == name, WarningReceipt.device_id.in_(list(devices))
    )
    return {
        row.device_id: Said(row.received_rev, row.received_at, row.seen_rev, row.seen_at)
        for row in session.scalars(query)
    }


def close(session: Session, warning: Warned) -> None:
    """Put counts by base in the place of the tablets' own rows; the warning is locked."""
    for base, counts in _counts(session, warning).items():
        session.add(
            WarningReach(
                **{"warning_id": warning.id, "base": base, "tablets": counts[0]},
                **{"received": counts[1], "seen": counts[2]},
            )
        )
    session.flush()
    session.execute(delete(WarningReceipt).where(WarningReceipt.warning_id == warning.id))


def by_base(session: Session, warning: Warned) -> list[BaseReach]:
    """Return the counts by duty base, now or as they were at the end."""
    if warning.status == PUBLISHED:
        counts = _counts(session, warning)
        return [BaseReach(base, Reach(*counts[base])) for base in sorted(counts)]
    query = (
        select(WarningReach)
        .where(WarningReach.warning_id == warning.id)
        .order_by(WarningReach.base)
    )
    return [
        BaseReach(row.base, Reach(row.tablets, row.received, row.seen))
        for row in session.scalars(query)
    ]


def _counts(session: Session, warning: Warned) -> dict[str, tuple[int, int, int]]:
    took = holders(warning.id, warning.rev)
    saw = took.where(WarningReceipt.seen_rev >= warning.rev)
    return tablets.by_base(session, took, saw)


@dataclass(frozen=True)
class Living:
    """A warning that lives, for a list to choose from."""

    id: uuid.UUID
    rev: int
    line: str
    direction: str
    place: str
    state: str


def living(session: Session) -> list[Living]:
    """Return the warnings that tablets are to hold now, the last changed first."""
    query = select(Warned).where(Warned.status == PUBLISHED)
    query = query.order_by(Warned.changed_at.desc(), Warned.id.desc())
    known = in_use.bases(session)
    return [_living(row, known.get(row.line_key)) for row in session.scalars(query)]


def _living(row: Warned, base: Base | None) -> Living:
    return Living(
        row.id,
        row.rev,
        line_name(base, row.line_key),
        name_of(base, "directions", row.direction),
        stretch_along(row.from_m, row.to_m, unit_of(base)),
        name_of(base, "states", row.plan_state),
    )


def counts_of(
    session: Session, devices: Sequence[uuid.UUID]
) -> dict[uuid.UUID, tuple[int, int]]:
    """Return of some tablets how many living warnings each received and showed."""
    seen = func.count().filter(func.coalesce(WarningReceipt.seen_rev, 0) >= Warned.rev)
    query = (
        select(WarningReceipt.device_id, func.count(), seen)
        .join(Warned, WarningReceipt.warning_id == Warned.id)
        .where(WarningReceipt.device_id.in_(devices), Warned.status == PUBLISHED)
        .where(WarningReceipt.received_rev >= Warned.rev)
        .group_by(WarningReceipt.device_id)
    )
    return {row[0]: (row[1], row[2]) for row in session.execute(query)}


def held_by(session: Session, device: uuid.UUID) -> list[tuple[Living, Said | None]]:
    """Return every living warning with what one tablet said of it."""
    query = select(WarningReceipt).where(WarningReceipt.device_id == device)
    told = {
        row.warning_id: Said(row.received_rev, row.received_at, row.seen_rev, row.seen_at)
        for row in session.scalars(query)
    }
    return [(one, told.get(one.id)) for one in living(session)]
