"""Reports as the desk reads them: newest first, page by page, with what is doubtful said."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import select, tuple_
from sqlalchemy.orm import Session

from webapp.jsontext import rfc3339
from webapp.reports.models import Report
from webapp.reports.names import Names, base_of, names
from webapp.tablets import service as tablets

PAGE_SIZE = 50
CLOCK_DOUBT = timedelta(seconds=120)
UNKNOWN_TABLET = "unknown tablet"
# Every name the page asks for; a tablet may leave out what may be null.
BLANK: dict[str, Any] = dict.fromkeys(
    (
        *(
            "route",
            "pack",
            "direction",
            "target",
            "place",
            "at_m",
            "found",
            "happened",
            "step",
        ),
        *("weather", "sand_used", "flats_suspected", "train_not_seen", "told_signaller_at"),
        *("text", "train", "rail_state", "driver_name", "supersedes", "position"),
    )
)


@dataclass(frozen=True)
class Cursor:
    """A place in the list; (received_at, id) never repeats, so no report is skipped."""

    received_at: datetime
    id: uuid.UUID

    def __str__(self) -> str:
        return f"{rfc3339(self.received_at)}~{self.id}"

    @classmethod
    def read(cls, text: str) -> Cursor:
        """Read what `str` wrote; anything else is a ValueError."""
        moment, _, name = text.partition("~")
        received_at = datetime.fromisoformat(moment)
        if received_at.tzinfo is None:
            raise ValueError("a time without an offset")
        return cls(received_at, uuid.UUID(name))


@dataclass(frozen=True)
class Link:
    """Another report of the same matter; without a number it has not arrived."""

    id: uuid.UUID
    server_no: int | None


@dataclass(frozen=True)
class DeskReport:
    """One report for the page; `body` is exactly what the driver sent."""

    server_no: int
    id: uuid.UUID
    tablet: str
    install_id: uuid.UUID
    seq: int
    received_at: datetime
    observed_at: datetime
    observed_est_at: datetime
    clock_offset: timedelta
    quarantined: bool
    body: dict[str, Any]
    names: Names
    corrects: Link | None
    corrected_by: list[Link]

    @property
    def uncalled(self) -> bool:
        """Whether it is of the kind that is told by voice, and nobody noted that it was."""
        asked = self.body["found"] == "reportable" or "overrun" in (
            self.body["happened"] or []
        )
        return asked and not self.body["told_signaller_at"]

    @property
    def clock_doubtful(self) -> bool:
        return abs(self.clock_offset) > CLOCK_DOUBT

    @property
    def told_signaller_at(self) -> datetime | None:
        told = self.body["told_signaller_at"]
        return datetime.fromisoformat(told.upper()) if told else None


@dataclass(frozen=True)
class Page:
    reports: list[DeskReport]
    older: Cursor | None


def page(session: Session, before: Cursor | None = None, size: int = PAGE_SIZE) -> Page:
    """Return the newest reports, or those that came before a place in the list."""
    query = select(Report).order_by(Report.received_at.desc(), Report.id.desc())
    if before is not None:
        place = tuple_(Report.received_at, Report.id)
        query = query.where(place < tuple_(before.received_at, before.id))
    rows = session.scalars(query.limit(size + 1)).all()
    shown = rows[:size]
    older = Cursor(shown[-1].received_at, shown[-1].id) if len(rows) > size else None
    return Page(_for_desk(session, shown), older)


def one(session: Session, name: uuid.UUID) -> Page:
    """Return a single report as a page of its own; empty if it has not arrived."""
    return Page(
        _for_desk(session, session.scalars(select(Report).filter_by(id=name)).all()), None
    )


def _for_desk(session: Session, rows: Sequence[Report]) -> list[DeskReport]:
    labels = tablets.labels(session, {row.device_id for row in rows if row.device_id})
    numbers = _numbers(session, {row.supersedes for row in rows if row.supersedes})
    later = _corrections(session, {row.id for row in rows})
    return [_desk_report(session, row, labels, numbers, later.get(row.id, [])) for row in rows]


def _numbers(session: Session, ids: set[uuid.UUID]) -> dict[uuid.UUID, int]:
    """Return the numbers of those reports that have arrived."""
    rows = session.execute(select(Report.id, Report.server_no).where(Report.id.in_(ids)))
    return {row.id: row.server_no for row in rows}


def _corrections(session: Session, ids: set[uuid.UUID]) -> dict[uuid.UUID, list[Link]]:
    """Return what corrects each of these reports, in order of arrival."""
    query = (
        select(Report.supersedes, Report.id, Report.server_no)
        .where(Report.supersedes.in_(ids))
        .order_by(Report.server_no)
    )
    found: dict[uuid.UUID, list[Link]] = {}
    for row in session.execute(query):
        found.setdefault(row.supersedes, []).append(Link(row.id, row.server_no))
    return found


def _desk_report(
    session: Session,
    row: Report,
    labels: dict[uuid.UUID, str],
    numbers: dict[uuid.UUID, int],
    corrected_by: list[Link],
) -> DeskReport:
    body = {**BLANK, **row.item["body"]}
    return DeskReport(
        server_no=row.server_no,
        id=row.id,
        tablet=labels.get(row.device_id, UNKNOWN_TABLET) if row.device_id else UNKNOWN_TABLET,
        install_id=row.install_id,
        seq=row.seq,
        received_at=row.received_at,
        observed_at=row.observed_at,
        observed_est_at=row.observed_est_at,
        clock_offset=timedelta(seconds=row.clock_offset_s),
        quarantined=row.quarantined,
        body=body,
        names=names(base_of(session, body["pack"]), body),
        corrects=Link(row.supersedes, numbers.get(row.supersedes)) if row.supersedes else None,
        corrected_by=corrected_by,
    )
