"""Reports as the desk reads them: names in place of keys, links, what is doubtful said."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import InstrumentedAttribute, Session

from webapp.plain import agreed
from webapp.plain.fields import EARLIEST, LATEST
from webapp.records import tablets
from webapp.records.reports import rank
from webapp.records.reports.body import BLANK
from webapp.records.reports.clocks import FAR_APART
from webapp.records.reports.models import Report
from webapp.records.reports.names import Names, bases_of, names

CLOCK_DOUBT = timedelta(seconds=agreed.CLOCK_WRONG_S)
UNKNOWN_TABLET = "unknown tablet"


@dataclass(frozen=True)
class Link:
    """Another report of the same matter; without a number it has not arrived."""

    id: uuid.UUID
    server_no: int | None


@dataclass(frozen=True)
class _Links:
    """Numbers of the reports that are pointed at, and who points at the reports shown."""

    named: dict[uuid.UUID, Report]
    corrected: dict[uuid.UUID, list[Report]]
    repeated: dict[uuid.UUID, list[Link]]


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
    # Named by, or naming, a report of another tablet: both count, neither replaces the other.
    names_other: Link | None
    named_by_others: list[Link]
    repeats: Link | None
    repeated_by: list[Link]
    reviewed_at: datetime | None
    reviewed_by: str | None
    version: int

    @property
    def kind(self) -> str:
        """What it is by its gravest fact, as its mark says it."""
        return rank.KINDS[rank.gravity(self.body)]

    @property
    def alone(self) -> str | None:
        """Why it has to be opened to be reviewed; None if it can be ticked in the list."""
        return rank.reason_alone(self.body, apart=self.quarantined)

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
    def clocks_far_apart(self) -> bool:
        """Whether either clock may be the wrong one: both times are shown then."""
        return abs(self.clock_offset) > FAR_APART

    @property
    def server_doubted(self) -> bool:
        """Whether it counts by its tablet's clock, since the server's was the wrong one."""
        counted = self.observed_est_at
        clamped = counted in (EARLIEST, LATEST)
        return self.clocks_far_apart and counted == self.observed_at and not clamped

    @property
    def by_server(self) -> datetime:
        """When it was seen if the server's clock was right."""
        try:
            return self.observed_at + self.clock_offset
        except OverflowError:
            return EARLIEST if self.clock_offset < timedelta(0) else LATEST

    @property
    def told_signaller_at(self) -> datetime | None:
        told = self.body["told_signaller_at"]
        return datetime.fromisoformat(told.upper()) if told else None


def one(session: Session, name: uuid.UUID) -> DeskReport | None:
    """Return a single report, None if it has not arrived."""
    row = session.scalar(select(Report).where(Report.id == name))
    return for_desk(session, [row])[0] if row else None


def for_desk(session: Session, rows: Sequence[Report]) -> list[DeskReport]:
    """Return rows with the names and links that a page shows."""
    labels = tablets.labels(session, {row.device_id for row in rows if row.device_id})
    named = {name for row in rows for name in (row.supersedes, row.repeats) if name}
    links = _Links(
        {row.id: row for row in session.scalars(select(Report).where(Report.id.in_(named)))},
        _correcting(session, {row.id for row in rows}),
        _pointing(session, Report.repeats, {row.id for row in rows}),
    )
    bases = bases_of(session, {row.pack_sha for row in rows if row.pack_sha})
    return [_desk_report(row, labels, links, bases) for row in rows]


def _correcting(session: Session, ids: set[uuid.UUID]) -> dict[uuid.UUID, list[Report]]:
    """Return the reports that name each of these as what they correct, in order of arrival."""
    query = select(Report).where(Report.supersedes.in_(ids)).order_by(Report.server_no)
    found: dict[uuid.UUID, list[Report]] = {}
    for row in session.scalars(query):
        if row.supersedes:
            found.setdefault(row.supersedes, []).append(row)
    return found


def _pointing(
    session: Session, column: InstrumentedAttribute[Any], ids: set[uuid.UUID]
) -> dict[uuid.UUID, list[Link]]:
    """Return what repeats each of these reports, in order of arrival."""
    query = (
        select(column.label("head"), Report.id, Report.server_no)
        .where(column.in_(ids))
        .order_by(Report.server_no)
    )
    found: dict[uuid.UUID, list[Link]] = {}
    for row in session.execute(query):
        found.setdefault(row.head, []).append(Link(row.id, row.server_no))
    return found


def _link(name: uuid.UUID | None, links: _Links) -> Link | None:
    there = links.named.get(name) if name else None
    return Link(name, there.server_no if there else None) if name else None


def _corrects(later: Report, row: Report | None) -> bool:
    """Whether a correction is of the tablet that sent the report; anonymised: not known."""
    if row is None:
        return True
    return bool(later.anonymised_at or row.anonymised_at) or later.is_of_tablet_of(row)


def _tablet(row: Report, labels: dict[uuid.UUID, str]) -> str:
    if row.anonymised_at is not None:
        return "not kept"
    return labels.get(row.device_id, UNKNOWN_TABLET) if row.device_id else UNKNOWN_TABLET


def _desk_report(
    row: Report,
    labels: dict[uuid.UUID, str],
    links: _Links,
    bases: dict[str, Any],
) -> DeskReport:
    body = {**BLANK, **row.item["body"]}
    named = _link(row.supersedes, links)
    own = row.supersedes is None or _corrects(row, links.named.get(row.supersedes))
    naming = links.corrected.get(row.id, [])
    return DeskReport(
        server_no=row.server_no,
        id=row.id,
        tablet=_tablet(row, labels),
        install_id=row.install_id,
        seq=row.seq,
        received_at=row.received_at,
        observed_at=row.observed_at,
        observed_est_at=row.observed_est_at,
        clock_offset=timedelta(seconds=row.clock_offset_s),
        quarantined=row.quarantined,
        body=body,
        names=names(bases.get(row.pack_sha or ""), body),
        corrects=named if own else None,
        corrected_by=[Link(one.id, one.server_no) for one in naming if _corrects(one, row)],
        names_other=None if own else named,
        named_by_others=[
            Link(one.id, one.server_no) for one in naming if not _corrects(one, row)
        ],
        repeats=_link(row.repeats, links),
        repeated_by=links.repeated.get(row.id, []),
        reviewed_at=row.reviewed_at,
        reviewed_by=row.reviewed_by,
        version=row.version,
    )
