"""What control looks at, and the two lists that are kept here: wheels and barred trains."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from sqlalchemy import ForeignKey, Index, String, select
from sqlalchemy.orm import Mapped, Session, mapped_column

from webapp.lines import in_use
from webapp.lines.base import Lines
from webapp.plain.jsontext import rfc3339
from webapp.records import allowance
from webapp.records.reports import lists
from webapp.records.reports.lists import Short
from webapp.records.warnings import models as warnings_models
from webapp.records.warnings import receipts
from webapp.records.warnings import service as warnings
from webapp.store import audit
from webapp.store.db import Base, UtcDateTime


class WheelCheck(Base):
    """What fleet found at the wheels of a train whose driver suspected flats."""

    __tablename__ = "wheel_check"

    report_id: Mapped[uuid.UUID] = mapped_column(ForeignKey("report.id"), primary_key=True)
    inspected_by: Mapped[str] = mapped_column(String(120))
    inspected_at: Mapped[datetime] = mapped_column(UtcDateTime)
    result: Mapped[str] = mapped_column(String(200))
    noted_by: Mapped[str] = mapped_column(String(60))
    noted_at: Mapped[datetime] = mapped_column(UtcDateTime)


class TrainBar(Base):
    """Trains that may not go somewhere, as the company decided; ended, never deleted."""

    __tablename__ = "train_bar"
    __table_args__ = (Index("ix_train_bar_ended_at", "ended_at"),)

    id: Mapped[uuid.UUID] = mapped_column(primary_key=True)
    line_key: Mapped[str] = mapped_column(String(120))
    place: Mapped[str] = mapped_column(String(120))
    trains: Mapped[str] = mapped_column(String(120))
    reason: Mapped[str] = mapped_column(String(200))
    decided_by: Mapped[str] = mapped_column(String(120))
    from_at: Mapped[datetime] = mapped_column(UtcDateTime)
    noted_by: Mapped[str] = mapped_column(String(60))
    ended_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    ended_by: Mapped[str | None] = mapped_column(String(60))


PUBLISHED = "published"
# Wheels are looked at within days; a report older than this is history.
FLATS_SHOWN = timedelta(days=60)
# Of those looked at; all that wait are listed.
MOST = 200
MOST_HELD = 16


class NoSuchRow(LookupError):
    """What should be changed is not there, or somebody was quicker."""


@dataclass(frozen=True)
class LivePlace:
    """One warning in force, in words."""

    id: uuid.UUID
    line: str
    direction: str
    stretch: str
    stops: list[str]
    state: str
    reason: str
    from_at: datetime
    begun: bool
    review_at: datetime | None
    review_due: bool
    told_by: str
    reference: str
    reach: receipts.Reach | None = None


@dataclass(frozen=True)
class Wheels:
    """A report of suspected flats, and what fleet found if it has looked."""

    report: Short
    check: WheelCheck | None


@dataclass(frozen=True)
class Bar:
    """Trains that may not go somewhere."""

    id: uuid.UUID
    line: str
    place: str
    trains: str
    reason: str
    decided_by: str
    from_at: datetime


@dataclass(frozen=True)
class LineAllowance:
    """The allowances of one line's trips."""

    name: str
    states: list[str]
    trips: list[allowance.TripRow]


_held: dict[tuple[str, date], LineAllowance] = {}


def lines(session: Session) -> Lines:
    return Lines(in_use.bases(session))


def live(session: Session, now: datetime, known: Lines) -> list[LivePlace]:
    """Return the warnings in force in the order of their lines and places."""
    rows = [one for one in warnings.listed(session) if one.status == PUBLISHED]
    rows.sort(key=lambda one: (one.line_key, one.direction, one.from_m, str(one.id)))
    reach = receipts.reach(session, rows)
    return [place_of(row, now, known, reach.get(row.id)) for row in rows]


def place_of(
    row: warnings_models.Warned,
    now: datetime,
    known: Lines,
    reach: receipts.Reach | None = None,
) -> LivePlace:
    """Put names in the place of a warning's keys."""
    return LivePlace(
        id=row.id,
        line=known.name(row.line_key),
        direction=known.direction(row.line_key, row.direction),
        stretch=known.stretch(row.line_key, row.from_m, row.to_m),
        stops=known.places_within(row.line_key, row.from_m, row.to_m),
        state=known.state(row.line_key, row.plan_state),
        reason=row.reason,
        from_at=row.from_at,
        begun=row.from_at <= now,
        review_at=row.review_at,
        review_due=row.review_at is not None and row.review_at <= now,
        told_by=row.told_by,
        reference=row.reference,
        reach=reach,
    )


def wheels(session: Session, now: datetime) -> list[Wheels]:
    """Return the reports of suspected flats, those not looked at yet first."""
    looked_at = select(WheelCheck.report_id)
    found = lists.with_flats(session, now - FLATS_SHOWN, looked_at, MOST)
    ids = [one.id for one in found]
    rows = session.scalars(select(WheelCheck).where(WheelCheck.report_id.in_(ids)))
    checks = {row.report_id: row for row in rows}
    listed = [Wheels(one, checks.get(one.id)) for one in found]
    return sorted(listed, key=lambda one: one.check is not None)


def inspected(
    session: Session, report: uuid.UUID, said: dict[str, Any], who: str, now: datetime
) -> None:
    """Note what fleet found; a later word takes the place of the one before, in the audit.

    Raises
    ------
    NoSuchRow
        If there is no such report.
    """
    if report not in lists.by_id(session, [report]):
        raise NoSuchRow("No report with this id has arrived.")
    row = session.get(WheelCheck, report, with_for_update=True)
    old = {"by": row.inspected_by, "result": row.result} if row else {}
    new = {"by": said["inspected_by"], "result": said["result"]}
    session.merge(WheelCheck(report_id=report, noted_by=who, noted_at=now, **said))
    audit.record(session, now, who, "wheels.inspected", str(report), old, new)


def checked(session: Session, report: uuid.UUID) -> dict[str, Any] | None:
    """Return what fleet found at the wheels that a report named, without who typed it."""
    row = session.get(WheelCheck, report)
    if row is None:
        return None
    told = {"inspected_by": row.inspected_by, "result": row.result}
    return {**told, "inspected_at": rfc3339(row.inspected_at)}


def bars(session: Session, known: Lines) -> list[Bar]:
    """Return the trains that may not go somewhere now."""
    query = select(TrainBar).where(TrainBar.ended_at.is_(None))
    rows = session.scalars(query.order_by(TrainBar.line_key, TrainBar.place, TrainBar.id))
    return [
        Bar(
            *(row.id, known.name(row.line_key), row.place, row.trains, row.reason),
            *(row.decided_by, row.from_at),
        )
        for row in rows
    ]


def bar(session: Session, said: dict[str, Any], who: str, now: datetime) -> uuid.UUID:
    """Note that the company keeps some trains from somewhere."""
    name = uuid.uuid4()
    session.add(TrainBar(id=name, from_at=now, noted_by=who, **said))
    audit.record(session, now, who, "train.barred", str(name), {}, said)
    return name


def unbar(session: Session, name: uuid.UUID, who: str, now: datetime) -> None:
    """End such a rule.

    Raises
    ------
    NoSuchRow
        If it is not there or has ended.
    """
    row = session.scalar(select(TrainBar).where(TrainBar.id == name).with_for_update())
    if row is None or row.ended_at is not None:
        raise NoSuchRow("This rule has ended already. Load the page again.")
    row.ended_at, row.ended_by = now, who
    old = {"place": row.place, "trains": row.trains}
    audit.record(session, now, who, "train.unbarred", str(name), old, {})


def allowances(session: Session, line: str | None, day: date) -> list[LineAllowance]:
    """Return what the trips of a line, or of the first one, are given on a day."""
    routes = in_use.routes(session)
    chosen = [one for one in routes if line is None or one["key"] == line][:1]
    return [_allowance(session, route["pack"], day) for route in chosen]


def _allowance(session: Session, pack: str, day: date) -> LineAllowance:
    """Add up a line's trips once a day: a pack never changes."""
    if (pack, day) not in _held:
        base = in_use.base(session, pack)
        rows = allowance.trips(base, in_use.table(session, pack), day)
        if len(_held) >= MOST_HELD:
            _held.clear()
        _held[pack, day] = LineAllowance(base.name, allowance.states(base), rows)
    return _held[pack, day]
