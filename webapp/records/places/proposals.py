"""What repeated reports propose: a stretch where reportable grip was found again and again.

How many reports, how near, in how many weeks: own choices, no source; a company's setting.
Counted are reportable reports of enrolled tablets, corrections once, repeats not. A report
is left out where it was there when a place was listed or retired, or a proposal declined:
only what came afterwards can propose it again. Where a place is listed already it was worse
than that: it is proposed again, unless it is listed as the worst that can be planned with.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import select
from sqlalchemy.orm import Session

from webapp.lines.base import Base, Direction
from webapp.plain.config import PROPOSE
from webapp.plain.fields import by_clock
from webapp.records.places.models import DeclinedPlace, ListedPlace
from webapp.records.places.register import Bases, Place, listed_now
from webapp.records.reports.counted import Counted, counted_since

# Own choice: a report names where the train was, the slippery rail lies round it.
NEAR_M = 200.0
BEFORE_MARK_M = 400.0
EVER = datetime.min.replace(tzinfo=UTC)
RATHER_SURE = (
    "Rather sure: it came back over more than a week. "
    "Nothing is known of trains that found good grip and wrote no report."
)


@dataclass(frozen=True)
class Rule:
    """So many reportable reports, each so near the last, within so many weeks."""

    reports: int = PROPOSE["PROPOSE_REPORTS"][-1]
    metres: int = PROPOSE["PROPOSE_METRES"][-1]
    weeks: int = PROPOSE["PROPOSE_WEEKS"][-1]

    @classmethod
    def of(cls, config: Mapping[str, Any]) -> Rule:
        """Read the settings `PROPOSE_*`, checked when the server started."""
        names = ("REPORTS", "METRES", "WEEKS")
        return cls(*(int(config[f"PROPOSE_{name}"]) for name in names))


@dataclass(frozen=True)
class Proposal:
    """A stretch that reports propose, with the reports."""

    line: str
    direction: str
    from_m: float
    to_m: float
    reports: list[Counted]
    days: list[date]
    by_stop: int
    better: int
    listed: list[Place]

    @property
    def first(self) -> int:
        """The number of its first report: names the proposal as long as it is counted."""
        return min(one.server_no for one in self.reports)

    @property
    def sure(self) -> str:
        """Say in words how sure it is that the place itself is slippery."""
        if len(self.days) == 1:
            return "Not sure: all on one day. It may have been that day's weather."
        if (self.days[-1] - self.days[0]).days < 7:
            return "Not very sure: within one week. It may have been that week's weather."
        return RATHER_SURE


@dataclass(frozen=True)
class Shut:
    """A stretch whose reports up to a moment propose nothing; None: whenever they came."""

    direction: str
    low: float
    high: float
    until: datetime | None
    place: Place | None = None


def found(
    session: Session, bases: Bases, rule: Rule, now: datetime, zone: str
) -> list[Proposal]:
    """Return what the reports of the last weeks propose, most reports first."""
    since = now - timedelta(weeks=rule.weeks)
    reports = counted_since(session, since)
    shut = _shut(session, bases)
    proposals, days = [], ZoneInfo(zone)
    for line, base in bases.items():
        here = [one for one in reports if one.line == line]
        for direction in base.directions:
            towards = [one for one in here if one.direction == direction.key]
            proposals += _of(base, direction, towards, shut[line], rule, days)
    proposals.sort(key=lambda one: (-len(one.reports), one.line, one.from_m))
    return proposals


def _shut(session: Session, bases: Bases) -> dict[str, list[Shut]]:
    """Return by line where nothing is proposed, and up to when."""
    closed: dict[str, list[Shut]] = {line: [] for line in bases}
    for one in listed_now(session, bases):
        worst = _is_worst(bases[one.line_key], one.state)
        until = None if worst else one.changed_at or EVER
        shut = Shut(one.direction, one.from_m, one.to_m, until, one)
        closed[one.line_key].append(shut)
    retired = ListedPlace.retired_at.is_not(None)
    rows = select(ListedPlace).where(ListedPlace.line_key.in_(bases), retired)
    for row in session.scalars(rows):
        shut = Shut(row.direction, row.from_m, row.to_m, row.retired_at)
        closed[row.line_key].append(shut)
    query = select(DeclinedPlace).where(DeclinedPlace.line_key.in_(bases))
    for gone in session.scalars(query):
        shut = Shut(gone.direction, gone.from_m, gone.to_m, gone.declined_at)
        closed[gone.line_key].append(shut)
    return closed


def _is_worst(base: Base, state: str) -> bool:
    """Whether no worse state can be planned with."""
    keys = [one.key for one in base.pickable]
    return state not in keys or state == keys[-1]


def _of(
    base: Base,
    direction: Direction,
    reports: Sequence[Counted],
    shut: Sequence[Shut],
    rule: Rule,
    zone: ZoneInfo,
) -> list[Proposal]:
    placed = [(at, one) for one in reports if (at := _at(base, direction, one)) is not None]
    open_ones = [
        (at, one)
        for at, one in placed
        if one.found == "reportable" and not _is_shut(at, one, direction.key, shut)
    ]
    groups = [group for group in _groups(open_ones, rule.metres) if len(group) >= rule.reports]
    return [_proposal(base, direction.key, group, placed, shut, zone) for group in groups]


def _at(base: Base, direction: Direction, one: Counted) -> float | None:
    """Return where a report lies along the line, by its place or else by its stop."""
    target = base.target(one.target)
    mark = None if target is None else target.first_mark
    before = None if mark is None else mark - direction.sign * BEFORE_MARK_M
    if one.at_m is None or before is None:
        return one.at_m if one.at_m is not None else before
    # A train that stands at its mark, or past it, slid before.
    is_there = direction.sign * (one.at_m - before) > BEFORE_MARK_M / 2
    return before if is_there else one.at_m


def _is_shut(at: float, one: Counted, direction: str, shut: Sequence[Shut]) -> bool:
    return any(
        s.direction == direction
        and s.low - NEAR_M <= at <= s.high + NEAR_M
        and (s.until is None or one.received_at <= s.until)
        for s in shut
    )


def _groups(
    placed: Iterable[tuple[float, Counted]], metres: float
) -> list[list[tuple[float, Counted]]]:
    """Group reports along the line: no group is longer than so many metres."""
    groups: list[list[tuple[float, Counted]]] = []
    for at, one in sorted(placed, key=lambda pair: (pair[0], pair[1].server_no)):
        if groups and at - groups[-1][0][0] <= metres:
            groups[-1].append((at, one))
        else:
            groups.append([(at, one)])
    return groups


def _proposal(
    base: Base,
    direction: str,
    group: list[tuple[float, Counted]],
    placed: Sequence[tuple[float, Counted]],
    shut: Sequence[Shut],
    zone: ZoneInfo,
) -> Proposal:
    low, high = base.widened(group[0][0] - NEAR_M, group[-1][0] + NEAR_M)
    rows = [one for _, one in group]
    better = sum(1 for at, one in placed if low <= at <= high and one.found != "reportable")
    return Proposal(
        line=base.key,
        direction=direction,
        from_m=low,
        to_m=high,
        reports=sorted(rows, key=lambda one: one.seen_at),
        days=sorted({by_clock(one.seen_at, zone).date() for one in rows}),
        by_stop=sum(1 for one in rows if one.at_m is None),
        better=better,
        listed=[s.place for s in shut if s.place and _near(s, direction, low, high)],
    )


def _near(shut: Shut, direction: str, low: float, high: float) -> bool:
    return shut.direction == direction and shut.low <= high and low <= shut.high
