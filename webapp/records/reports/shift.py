"""A shift on one line as a picture: place down, time across, and the same as rows.

Reports are marks by kind, warnings and treatments bars. What lies off the line as its pack in
use counts it is in the rows alone.
"""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import desc, func, or_, select
from sqlalchemy.orm import Session

from webapp.lines.base import Base, unit_of
from webapp.lines.posts import place_along, stretch_along
from webapp.records.places import register
from webapp.records.places.models import Treatment
from webapp.records.reports import rank
from webapp.records.reports.models import Report
from webapp.records.reports.strip import mark_of
from webapp.records.warnings.models import Warned

#: How far back it goes, and how many reports it shows at most: the newest.
SHIFT = timedelta(hours=12)
MOST = 200
WIDTH, LEFT, RIGHT, TOP, BOTTOM = 460, 112, 448, 14, 264
#: Names of stations stand no closer than this.
APART = 16
WORDS = {
    "overrun": "overrun",
    "not-seen": "train not seen",
    "no-call": "reportable, no call noted",
    "flats": "flats suspected",
    "reportable": "reportable",
    "expected": "expected",
    "good": "good",
}


@dataclass(frozen=True)
class Mark:
    """A report: where its mark stands, and where its page is."""

    kind: str
    x: float
    y: float
    id: uuid.UUID
    no: int


@dataclass(frozen=True)
class Bar:
    """A warning, or a treatment: a moment is drawn a few units wide."""

    kind: str
    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True)
class Row:
    """One thing of the picture in words; what `id` names has a page."""

    at: datetime
    kind: str
    words: str
    where: str
    id: uuid.UUID | None


@dataclass(frozen=True)
class Picture:
    """The whole picture, `WIDTH` wide; `rows` say the same, the newest first."""

    line: str
    name: str
    since: datetime
    until: datetime
    stations: list[tuple[float, str]]
    hours: list[tuple[float, datetime]]
    marks: list[Mark]
    bars: list[Bar]
    rows: list[Row]

    @property
    def kinds(self) -> list[tuple[str, str]]:
        """Return the kinds of marks that are in it, the gravest first, with their words."""
        there = {one.kind for one in self.marks}
        return [(kind, words) for kind, words in WORDS.items() if kind in there]


def of_list(
    session: Session, bases: Mapping[str, Base], line: str | None, now: datetime
) -> Picture | None:
    """Draw the line that the list is narrowed to, else the one with the most reports now."""
    if line is None:
        seen = Report.observed_est_at
        query = select(Report.line_key, func.count().label("reports"))
        query = query.where(Report.line_key.in_(bases), seen >= now - SHIFT, seen <= now)
        query = query.group_by(Report.line_key).order_by(desc("reports"), Report.line_key)
        line = session.scalar(query.limit(1))
    base = bases.get(line or "")
    return None if base is None else draw(session, base, now)


def draw(session: Session, base: Base, now: datetime) -> Picture | None:
    """Draw the last hours of a line; None where its pack holds no line to draw on."""
    ends = base.ends
    if ends is None or ends[0] == ends[1]:
        return None
    scale = _Scale(*ends, now - SHIFT, now)
    line = base.key
    reports = list(_reports(session, line, scale.since, now))
    warned = list(_warned(session, line, scale.since))
    treated = _treated(session, line, base, scale.since)
    return Picture(
        line, base.name, scale.since, now,
        _stations(base, scale), _hours(scale),
        [one for row in reports if (one := _mark(base, row, scale))],
        [_warning_bar(one, scale) for one in warned if one.datum == base.datum]
        + [_treated_bar(one, scale) for one in treated],
        _rows(base, reports, warned, treated),
    )  # fmt: skip


@dataclass(frozen=True)
class _Scale:
    low: float
    high: float
    since: datetime
    until: datetime

    def x(self, at: datetime) -> float:
        inside = min(max(at, self.since), self.until)
        share = (inside - self.since) / (self.until - self.since)
        return round(LEFT + (RIGHT - LEFT) * share, 1)

    def y(self, at: float) -> float:
        inside = min(max(at, self.low), self.high)
        return round(TOP + (BOTTOM - TOP) * (inside - self.low) / (self.high - self.low), 1)


def _reports(session: Session, line: str, since: datetime, now: datetime) -> Sequence[Report]:
    seen = Report.observed_est_at
    query = select(Report).where(Report.line_key == line, seen >= since, seen <= now)
    return session.scalars(query.order_by(seen.desc(), Report.id.desc()).limit(MOST)).all()


def _warned(session: Session, line: str, since: datetime) -> Sequence[Warned]:
    lives = or_(Warned.status == "published", Warned.ended_at >= since)
    query = select(Warned).where(Warned.line_key == line, Warned.feed_no.is_not(None), lives)
    return session.scalars(query.order_by(Warned.from_at, Warned.id)).all()


@dataclass(frozen=True)
class _Treated:
    row: Treatment
    name: str
    from_m: float
    to_m: float


def _treated(session: Session, line: str, base: Base, since: datetime) -> list[_Treated]:
    places = {one.id: one for one in register.listed_now(session, {line: base})}
    # By place: that is how treatments are indexed.
    query = select(Treatment).where(Treatment.place_id.in_(places), Treatment.done_at >= since)
    rows = list(session.scalars(query.order_by(Treatment.done_at)))
    struck = {one.strikes for one in rows}
    return [
        _Treated(one, there.name, there.from_m, there.to_m)
        for one in rows
        if one.strikes is None and one.id not in struck
        for there in (places[one.place_id],)
    ]


def _stations(base: Base, scale: _Scale) -> list[tuple[float, str]]:
    found: list[tuple[float, str]] = []
    for one in sorted(base.places, key=lambda one: one.at_m):
        y = scale.y(one.at_m)
        if not found or y - found[-1][0] >= APART:
            found.append((y, one.name))
    return found


def _hours(scale: _Scale) -> list[tuple[float, datetime]]:
    first = scale.since.replace(minute=0, second=0, microsecond=0) + timedelta(hours=1)
    whole = [first + timedelta(hours=n) for n in range(0, 12, 3)]
    return [(scale.x(one), one) for one in whole if one <= scale.until]


def _mark(base: Base, row: Report, scale: _Scale) -> Mark | None:
    at = mark_of(base, row.at_m, row.target)
    if at is None or not scale.low <= at <= scale.high:
        return None
    x, y = scale.x(row.observed_est_at), scale.y(at)
    return Mark(_kind(row), x, y, row.id, row.server_no)


def _kind(row: Report) -> str:
    return rank.KINDS[rank.gravity(row.item["body"])]


def _warning_bar(one: Warned, scale: _Scale) -> Bar:
    ends = sorted((scale.y(one.from_m), scale.y(one.to_m)))
    begins, over = scale.x(one.from_at), scale.x(one.ended_at or scale.until)
    return Bar("warned", begins, ends[0], max(over - begins, 3), max(ends[1] - ends[0], 5))


def _treated_bar(one: _Treated, scale: _Scale) -> Bar:
    ends = sorted((scale.y(one.from_m), scale.y(one.to_m)))
    return Bar("treated", scale.x(one.row.done_at) - 2, ends[0], 4, max(ends[1] - ends[0], 12))


def _rows(
    base: Base,
    reports: Sequence[Report],
    warned: Sequence[Warned],
    treated: Sequence[_Treated],
) -> list[Row]:
    unit = unit_of(base)
    found = [
        Row(one.observed_est_at, "report", f"no. {one.server_no}, {WORDS[_kind(one)]}",
            _where(base, one, unit), one.id)
        for one in reports
    ]  # fmt: skip
    found += [
        Row(one.from_at, "warning", "warning ended" if one.ended_at else "warning",
            stretch_along(one.from_m, one.to_m, unit), one.id)
        for one in warned
    ]  # fmt: skip
    found += [
        Row(one.row.done_at, "treatment", f"treatment, {one.row.outcome}",
            f"{one.name}, {stretch_along(one.from_m, one.to_m, unit)}", None)
        for one in treated
    ]  # fmt: skip
    return sorted(found, key=lambda one: one.at, reverse=True)


def _where(base: Base, row: Report, unit: str | None) -> str:
    at = mark_of(base, row.at_m, row.target)
    return "place not given" if at is None else place_along(at, unit, about=True)
