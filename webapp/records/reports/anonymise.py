"""Take out of a report what tells of a person, and leave the grip fact.

What goes: the name, the free words, which tablet sent it and under which number, its clock,
and the fingerprint, since with the rest known a roster of names could be tried against it.
What stays: place, time, what was found and happened, step, weather, train and rail state.
"""

from __future__ import annotations

import copy
import uuid
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Select, and_, delete, func, or_, select, update
from sqlalchemy.orm import Session

from webapp.plain.jsontext import rfc3339
from webapp.records.reports.models import ClosedNumber, Refusal, Report, ReportWords
from webapp.records.reports.search import searched
from webapp.records.reports.sequence import NOBODYS
from webapp.store import audit

NO_FINGERPRINT = "0" * 64
AT_ONCE = 200
NAME = Report.item[("body", "driver_name")].as_string()


class StillNeeded(Exception):
    """The report waits for the desk, which may need its words and the way back."""


@dataclass(frozen=True)
class Held:
    """What is held of a person about one report, its corrections included."""

    id: uuid.UUID
    server_no: int
    names: int
    words: int
    tablets: int
    numbers: list[int]
    waiting: bool


@dataclass(frozen=True)
class Due:
    """How many reports are to lose their names, and how many all that tells of a person."""

    names: int
    words: int
    waiting: int
    warned: int


def held(session: Session, number: int) -> Held | None:
    """Return what is held about the report with this number, None if there is none."""
    row = session.scalar(select(Report).where(Report.server_no == number))
    if row is None:
        return None
    rows = _chain(session, row)
    bodies = [one.item["body"] for one in rows]
    return Held(
        id=row.id,
        server_no=number,
        names=sum(bool(body.get("driver_name")) for body in bodies),
        words=sum(bool(body.get("text")) for body in bodies),
        tablets=sum(one.anonymised_at is None for one in rows),
        numbers=[one.server_no for one in rows],
        waiting=any(one.waiting for one in rows),
    )


def anonymise(session: Session, name: uuid.UUID, who: str, now: datetime) -> list[uuid.UUID]:
    """Take the person out of a report and of its corrections; the audit says so, not what.

    Raises
    ------
    StillNeeded
        While one of them waits for the desk.
    """
    row = session.scalars(select(Report).where(Report.id == name)).one()
    rows = [one for one in _chain(session, row) if one.anonymised_at is None]
    if any(one.waiting for one in rows):
        raise StillNeeded("Review it first: while it waits its words may be needed.")
    for one in rows:
        _anonymise(session, one, now)
        new = {"no": one.server_no, "gone": ["driver_name", "text", "tablet"]}
        audit.record(session, now, who, "report.pared", str(one.id), {}, new)
    return [one.id for one in rows]


def anonymise_again(
    session: Session, names: Iterable[uuid.UUID], now: datetime
) -> list[uuid.UUID]:
    """Take out of an older copy what was taken out on request since, whatever else it says."""
    done = []
    wanted = sorted(names)
    for at in range(0, len(wanted), AT_ONCE):
        some = Report.id.in_(wanted[at : at + AT_ONCE])
        for row in session.scalars(select(Report).where(some, Report.anonymised_at.is_(None))):
            _anonymise(session, row, now)
            done.append(row.id)
    return done


def due(
    session: Session, names: datetime, words: datetime, needed: Select[uuid.UUID | None]
) -> Due:
    """Count what is due: names of reports that came before one time, all before another."""
    old = Report.anonymised_at.is_(None), Report.received_at < words
    warned = _warned(needed)
    return Due(
        names=_count(session, *_names_due(names, words, needed)),
        words=_count(session, *_words_due(words, needed)),
        waiting=_count(session, *old, Report.waiting.is_(True)),
        warned=_count(session, *old, ~Report.waiting, warned),
    )


def anonymise_old(
    session: Session,
    names: datetime,
    words: datetime,
    needed: Select[uuid.UUID | None],
    now: datetime,
) -> tuple[int, int]:
    """Do what `due` counts; return how many names went, and of how many reports the rest."""
    unnamed = anonymised = 0
    for rows in _batches(session, _names_due(names, words, needed)):
        for row in rows:
            row.item = _without(row.item, driver_name=None)
            row.payload_sha = NO_FINGERPRINT
        unnamed += len(rows)
    for rows in _batches(session, _words_due(words, needed)):
        for row in rows:
            _anonymise(session, row, now)
        anonymised += len(rows)
    return unnamed, anonymised


def _warned(needed: Select[uuid.UUID | None]) -> ColumnElement[bool]:
    repeats = and_(Report.repeats.is_not(None), Report.repeats.in_(needed))
    return or_(Report.id.in_(needed), repeats)


def _words_due(words: datetime, needed: Select[uuid.UUID | None]) -> list[ColumnElement[bool]]:
    old = Report.anonymised_at.is_(None), Report.received_at < words
    return [*old, ~Report.waiting, ~_warned(needed)]


def _names_due(
    names: datetime, words: datetime, needed: Select[uuid.UUID | None]
) -> list[ColumnElement[bool]]:
    """Those that are not to lose all that tells of a person anyway."""
    old = (
        Report.anonymised_at.is_(None),
        Report.received_at < names,
        Report.received_at >= words,
    )
    return [*old, ~Report.waiting, ~_warned(needed), NAME.is_not(None)]


def _count(session: Session, *asked: ColumnElement[bool]) -> int:
    return session.scalar(select(func.count()).select_from(Report).where(*asked)) or 0


def _batches(session: Session, asked: list[ColumnElement[bool]]) -> Iterator[Sequence[Report]]:
    """Yield rows until none is left: what is done to a row takes it out of the question."""
    query = select(Report).where(*asked).order_by(Report.server_no).limit(AT_ONCE)
    while rows := session.scalars(query).all():
        yield rows
        session.flush()
        session.expunge_all()


def _chain(session: Session, row: Report) -> list[Report]:
    """Return a report with all that it corrects or is corrected by, of the same tablet."""
    found = {row.id: row}
    new = [row]
    while new:
        ids = [one.id for one in new]
        named = [one.supersedes for one in new if one.supersedes]
        query = select(Report).where(
            or_(Report.id.in_(named), Report.supersedes.in_(ids)), Report.id.notin_(found)
        )
        new = [one for one in session.scalars(query) if one.is_of_tablet_of(row)]
        found |= {one.id: one for one in new}
    return sorted(found.values(), key=lambda one: one.server_no)


def _without(item: dict[str, Any], **blank: Any) -> dict[str, Any]:
    left = copy.deepcopy(item)
    left["body"].update({name: to for name, to in blank.items() if name in left["body"]})
    return left


def _anonymise(session: Session, row: Report, now: datetime) -> None:
    refused = session.scalars(select(Refusal).where(Refusal.id == row.id)).all()
    numbers = {(row.device_id, row.install_id, row.seq)}
    numbers |= {(one.device_id, one.install_id, one.seq) for one in refused}
    session.add_all(
        ClosedNumber(id=uuid.uuid4(), device_id=device, install_id=install, seq=seq)
        for device, install, seq in numbers
    )
    session.execute(delete(Refusal).where(Refusal.id == row.id))
    blank: dict[str, Any] = {"driver_name": None, "text": ""}
    if row.at_m is not None:
        blank["position"] = None
    item = _without(row.item, **blank)
    row.item = {**item, "seq": 0, "observed_at": rfc3339(row.observed_est_at)}
    row.device_id, row.install_id, row.seq = None, NOBODYS, 0
    row.payload_sha, row.anonymised_at = NO_FINGERPRINT, now
    # How far a tablet's clock is off tells it from the others.
    row.observed_at, row.sent_at, row.clock_offset_s = row.observed_est_at, row.received_at, 0
    row.version += 1
    left = searched(item["body"])
    words = update(ReportWords).where(ReportWords.server_no == row.server_no)
    session.execute(words.values(words=left))
