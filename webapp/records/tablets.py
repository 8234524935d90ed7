"""Enrol a tablet, know it again, note when it was heard."""

from __future__ import annotations

import json
import uuid
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import (
    ColumnElement,
    ForeignKey,
    Select,
    String,
    delete,
    func,
    or_,
    select,
    tuple_,
    update,
)
from sqlalchemy.orm import Mapped, Session, mapped_column

from webapp.plain import codes
from webapp.plain.agreed import SECRET_LETTERS
from webapp.plain.fields import storable
from webapp.store import audit
from webapp.store.db import Base, UtcDateTime, setting


class Device(Base):
    """One enrolled tablet; the token itself is only in the tablet's cookie."""

    __tablename__ = "device"

    id: Mapped[uuid.UUID] = mapped_column(primary_key=True)
    token_sha: Mapped[str] = mapped_column(String(64), unique=True)
    label: Mapped[str] = mapped_column(String(120))
    # Duty base; "" if nobody named one. What was seen is counted by it, never by driver.
    base: Mapped[str] = mapped_column(String(60), default="", server_default="")
    enrolled_at: Mapped[datetime] = mapped_column(UtcDateTime)
    revoked_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    last_heard_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    app_build: Mapped[str | None] = mapped_column(String(64))
    # None: it never said. Not installed, its storage may be emptied by the system (R19).
    installed: Mapped[bool | None]


class TabletPack(Base):
    """Which pack a tablet last said it holds for a line."""

    __tablename__ = "tablet_pack"

    device_id: Mapped[uuid.UUID] = mapped_column(ForeignKey("device.id"), primary_key=True)
    line_key: Mapped[str] = mapped_column(String(120), primary_key=True)
    pack_sha: Mapped[str] = mapped_column(String(64))
    told_at: Mapped[datetime] = mapped_column(UtcDateTime)


class EnrolCode(Base):
    """A code that enrols one tablet once; only its hash is kept."""

    __tablename__ = "enrol_code"

    code_sha: Mapped[str] = mapped_column(String(64), primary_key=True)
    label: Mapped[str] = mapped_column(String(120))
    base: Mapped[str] = mapped_column(String(60), default="", server_default="")
    made_by: Mapped[str] = mapped_column(String(60))
    expires_at: Mapped[datetime] = mapped_column(UtcDateTime)
    used_at: Mapped[datetime | None] = mapped_column(UtcDateTime)


# 31^8 is 39 bits; guesses are limited besides.
PAGE_SIZE = 50
# A tablet that only asks is noted as heard this often: not every question is a write.
NOTE_EVERY = timedelta(minutes=5)


@dataclass(frozen=True)
class Tablet:
    """A device that showed a token we gave out."""

    id: uuid.UUID
    label: str
    valid: bool
    enrolled_at: datetime
    revoked_at: datetime | None
    last_heard_at: datetime | None = None


def enrol(session: Session, label: str, now: datetime, base: str = "") -> str:
    """Create a device and return its token; only the token's hash is kept."""
    token = codes.new_token()
    row = Device(
        id=uuid.uuid4(), token_sha=codes.sha(token), label=label, base=base, enrolled_at=now
    )
    session.add(row)
    return token


@dataclass(frozen=True)
class Listed:
    """One tablet as the desk lists it."""

    id: uuid.UUID
    label: str
    base: str
    enrolled_at: datetime
    revoked_at: datetime | None
    last_heard_at: datetime | None
    app_build: str | None
    installed: bool | None


@dataclass(frozen=True)
class Cursor:
    """A place in the list of tablets."""

    base: str
    label: str
    id: uuid.UUID

    def __str__(self) -> str:
        return json.dumps([self.base, self.label, str(self.id)])

    @classmethod
    def read(cls, text: str) -> Cursor:
        """Read what `str` wrote; anything else is a ValueError."""
        match json.loads(text):
            case [str(base), str(label), str(name)]:
                return cls(storable(base), storable(label), uuid.UUID(name))
        raise ValueError("not a place in the list of tablets")


@dataclass(frozen=True)
class Page:
    tablets: list[Listed]
    more: Cursor | None


def make_code(session: Session, label: str, who: str, now: datetime, base: str = "") -> str:
    """Make a code that enrols one tablet in the time of a setting; old ones are swept."""
    code = codes.new_code(SECRET_LETTERS)
    session.execute(delete(EnrolCode).where(EnrolCode.expires_at < now - timedelta(days=1)))
    ends = now + code_lives(session)
    row = EnrolCode(
        code_sha=codes.sha(code), label=label, base=base, made_by=who, expires_at=ends
    )
    session.add(row)
    audit.record(session, now, who, "tablet.code", label, {}, {})
    return code


def code_lives(session: Session) -> timedelta:
    """Return how long a code is good for."""
    return timedelta(minutes=int(setting(session, "CODE_MINUTES")))


def enrol_by_code(session: Session, typed: str, now: datetime) -> tuple[str, str] | None:
    """Use up a code; return the new tablet's token and label, None when the code is no good.

    One statement decides: of two tablets with one code, one is enrolled.
    """
    used = session.execute(
        update(EnrolCode)
        .where(EnrolCode.code_sha == codes.sha(codes.plain(typed)[:SECRET_LETTERS]))
        .where(EnrolCode.used_at.is_(None), EnrolCode.expires_at > now)
        .values(used_at=now)
        .returning(EnrolCode.label, EnrolCode.base, EnrolCode.made_by)
    ).one_or_none()
    if used is None:
        # Neither what was typed nor from where: this is kept for ever.
        audit.record(session, now, "nobody", "tablet.code_refused", "", {}, {})
        return None
    audit.record(session, now, used.made_by, "tablet.enrolled", used.label, {}, {})
    return enrol(session, used.label, now, used.base), used.label


def page(
    session: Session,
    after: Cursor | None = None,
    lacking: Select[uuid.UUID] | None = None,
    *,
    ended: bool = False,
    size: int = PAGE_SIZE,
) -> Page:
    """Return tablets by duty base and name; with ``lacking`` those that it does not name."""
    query = select(Device)
    if not ended or lacking is not None:
        query = query.where(Device.revoked_at.is_(None))
    if lacking is not None:
        query = query.where(Device.id.notin_(lacking))
    if after is not None:
        place = tuple_(Device.base, Device.label, Device.id)
        query = query.where(place > tuple_(after.base, after.label, after.id))
    order = (Device.base, Device.label, Device.id)
    rows = session.scalars(query.order_by(*order).limit(size + 1)).all()
    sent = [_listed(row) for row in rows[:size]]
    more = Cursor(sent[-1].base, sent[-1].label, sent[-1].id) if len(rows) > size else None
    return Page(sent, more)


def unheard(session: Session, since: datetime, most: int) -> tuple[int, list[Listed]]:
    """Return how many tablets in use were not heard since then, and the first of them."""
    silent = or_(Device.last_heard_at.is_(None), Device.last_heard_at < since)
    query = select(Device).where(Device.revoked_at.is_(None), silent)
    count = session.scalar(select(func.count()).select_from(query.subquery())) or 0
    rows = session.scalars(query.order_by(Device.base, Device.label, Device.id).limit(most))
    return count, [_listed(row) for row in rows]


def get(session: Session, device_id: uuid.UUID) -> Listed | None:
    """Return one tablet."""
    row = session.get(Device, device_id)
    return None if row is None else _listed(row)


def place_at(
    session: Session, device_id: uuid.UUID, base: str, who: str, now: datetime
) -> None:
    """Say which duty base a tablet belongs to."""
    row = session.get(Device, device_id, with_for_update=True)
    if row is None or row.base == base:
        return
    audit.record(
        session, now, who, "tablet.base", row.label, {"base": row.base}, {"base": base}
    )
    row.base = base


def _listed(row: Device) -> Listed:
    return Listed(
        row.id,
        row.label,
        row.base,
        row.enrolled_at,
        row.revoked_at,
        row.last_heard_at,
        row.app_build,
        row.installed,
    )


def known(session: Session, token: str | None) -> Tablet | None:
    """Return the tablet that holds this token; a revoked one is known but not valid."""
    if not token:
        return None
    device = session.scalar(select(Device).where(Device.token_sha == codes.sha(token)))
    if device is None:
        return None
    valid = device.revoked_at is None
    began, ended = device.enrolled_at, device.revoked_at
    return Tablet(device.id, device.label, valid, began, ended, device.last_heard_at)


def asked(session: Session, tablet: Tablet, now: datetime) -> None:
    """Note that a tablet asked something, without it handing in anything."""
    session.execute(update(Device).where(Device.id == tablet.id).values(last_heard_at=now))


def note_due(tablet: Tablet, now: datetime) -> bool:
    """Whether it is worth a write to note that this tablet was heard."""
    return tablet.last_heard_at is None or now - tablet.last_heard_at >= NOTE_EVERY


def heard(
    session: Session,
    tablet: Tablet,
    now: datetime,
    app_build: str,
    installed: bool | None = None,
) -> None:
    """Note the contact; the row lock also queues two batches of one tablet."""
    session.execute(
        update(Device)
        .where(Device.id == tablet.id)
        .values(last_heard_at=now, app_build=app_build, installed=installed)
    )


def revoke(session: Session, device_id: uuid.UUID, now: datetime, who: str = "server") -> bool:
    """End a device: what it saw from now on does not count. False if it had ended."""
    label = session.scalar(
        update(Device)
        .where(Device.id == device_id, Device.revoked_at.is_(None))
        .values(revoked_at=now)
        .returning(Device.label)
    )
    if label is None:
        return False
    audit.record(session, now, who, "tablet.revoked", label, {}, {"id": str(device_id)})
    return True


def labels(session: Session, ids: set[uuid.UUID]) -> dict[uuid.UUID, str]:
    """Return the names of some devices for the desk."""
    rows = session.execute(select(Device.id, Device.label).where(Device.id.in_(ids)))
    return {row.id: row.label for row in rows}


def holds(
    session: Session, device_id: uuid.UUID, packs: Mapping[str, str], now: datetime
) -> None:
    """Note which pack a tablet holds for each line; a line it does not name it holds not."""
    gone = TabletPack.device_id == device_id, TabletPack.line_key.notin_(packs)
    session.execute(delete(TabletPack).where(*gone))
    for line, sha in sorted(packs.items()):
        session.merge(
            TabletPack(device_id=device_id, line_key=line, pack_sha=sha, told_at=now)
        )


def packs_of(
    session: Session, devices: Iterable[uuid.UUID]
) -> dict[uuid.UUID, dict[str, str]]:
    """Return what some tablets last said they hold, by line."""
    found: dict[uuid.UUID, dict[str, str]] = {}
    query = select(TabletPack).where(TabletPack.device_id.in_(list(devices)))
    for row in session.scalars(query.order_by(TabletPack.line_key)):
        found.setdefault(row.device_id, {})[row.line_key] = row.pack_sha
    return found


def every(device_id: uuid.UUID | None = None) -> Select[uuid.UUID]:
    """Name all tablets there ever were, or one, for a query of another room."""
    query = select(Device.id)
    return query if device_id is None else query.where(Device.id == device_id)


def own_id() -> ColumnElement[uuid.UUID]:
    """Return the id of a tablet inside such a query."""
    return Device.__table__.c.id


def in_use() -> Select[uuid.UUID]:
    """Name the tablets that are enrolled and not ended, for a query of another room."""
    return select(Device.id).where(Device.revoked_at.is_(None))


def names_in_use(session: Session) -> list[tuple[uuid.UUID, str]]:
    """Return id and name of the tablets that are enrolled and not ended, by base and name."""
    query = select(Device.id, Device.base, Device.label).where(Device.revoked_at.is_(None))
    rows = session.execute(query.order_by(Device.base, Device.label, Device.id))
    return [(row.id, f"{row.label} ({row.base})" if row.base else row.label) for row in rows]


def count_in_use(session: Session) -> int:
    """Return how many tablets are enrolled and not ended."""
    query = select(func.count()).select_from(Device).where(Device.revoked_at.is_(None))
    return session.scalar(query) or 0


def by_base(
    session: Session, some: Select[uuid.UUID], others: Select[uuid.UUID]
) -> dict[str, tuple[int, int, int]]:
    """Count the tablets in use by duty base: all, those in `some`, those in `others`."""
    counts = (func.count().filter(Device.id.in_(query)) for query in (some, others))
    query = (
        select(Device.base, func.count(), *counts)
        .where(Device.revoked_at.is_(None))
        .group_by(Device.base)
    )
    return {row[0]: (row[1], row[2], row[3]) for row in session.execute(query)}
