"""What the list of reports can be narrowed to, as it stands in the page's address.

The list and every export read the same words, so that what is exported is what was seen.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import UTC, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import marshmallow as ma
from sqlalchemy import ColumnElement, and_, or_

from webapp.lines.base import Base
from webapp.plain.fields import Strict, Text, choice
from webapp.records.reports import search
from webapp.records.reports.body import WORDS_FOUND, WORDS_HAPPENED
from webapp.records.reports.models import Report
from webapp.records.reports.rank import BAR

Condition = ColumnElement[bool]
SORTS = {
    "matters": "what matters first",
    "newest": "last to arrive first",
    "oldest": "first to arrive first",
    "seen": "last to be seen first",
}
STATES = {"waiting": "waiting", "reviewed": "reviewed", "repeat": "joined to another"}
APART = {"no": "from enrolled tablets", "yes": "kept apart"}
#: A report without a stop counts for a place from which it is no farther. [m]
AROUND_M = 1000.0


class Faults(ValueError):
    """What of the address cannot be taken, by field, with the cure."""

    def __init__(self, faults: dict[str, str]) -> None:
        super().__init__("; ".join(f"{name}: {text}" for name, text in faults.items()))
        self.faults = faults


class FilterIn(Strict):
    """The fields of the form; an empty one narrows nothing."""

    line = Text(120)
    direction = Text(120)
    place = Text(120)
    found = choice(*WORDS_FOUND)
    happened = choice(*WORDS_HAPPENED)
    rail = Text(120)
    state = choice(*STATES)
    apart = choice(*APART)
    since = Text(40)
    until = Text(40)
    q = Text(search.LONGEST)
    sort = choice(*SORTS)
    before = Text(120)

    error_messages = {  # noqa: RUF012
        "unknown": "This is no field of this page. Take it out of the address.",
    }


@dataclass(frozen=True)
class Filter:
    """The filter of one page; None narrows nothing."""

    line: str | None = None
    direction: str | None = None
    place: str | None = None
    found: str | None = None
    happened: str | None = None
    rail: str | None = None
    state: str | None = None
    apart: str | None = None
    since: str | None = None
    until: str | None = None
    q: str | None = None
    sort: str = "matters"

    def address(self, **more: str) -> dict[str, Any]:
        """Return the fields for an address, without those that say nothing."""
        said = {name: value for name, value in asdict(self).items() if value}
        if said["sort"] == "matters":
            del said["sort"]
        return {**said, **more}

    @property
    def narrows(self) -> bool:
        return any(name != "sort" for name in self.address())


def read(given: Mapping[str, str]) -> tuple[Filter, str | None]:
    """Return filter and cursor of an address.

    Raises
    ------
    Faults
        Naming every field that cannot be taken.
    """
    said = {name: value.strip() for name, value in given.items() if value.strip()}
    try:
        taken = FilterIn().load(said)
    except ma.ValidationError as error:
        raise Faults(
            {name: " ".join(map(str, texts)) for name, texts in error.messages_dict.items()}
        ) from error
    before = taken.pop("before", None)
    return Filter(**taken), before


def conditions(
    wanted: Filter, bases: Mapping[str, Base], zone: str
) -> list[ColumnElement[bool]]:
    """Return what the database must ask of a report.

    Raises
    ------
    Faults
        For a time that is none, or a place that the line does not have.
    """
    found = _plain(wanted)
    faults: dict[str, str] = {}
    found += _times(wanted, ZoneInfo(zone), faults)
    found += _place(wanted, bases, faults)
    if faults:
        raise Faults(faults)
    return found + (search.matches(wanted.q) if wanted.q else [])


def _plain(wanted: Filter) -> list[ColumnElement[bool]]:
    found: list[ColumnElement[bool]] = []
    same = {
        "line": Report.line_key,
        "direction": Report.direction,
        "found": Report.found,
        "rail": Report.rail_state,
    }
    for name, column in same.items():
        value = getattr(wanted, name)
        if value is not None:
            found.append(column == value)
    if wanted.happened:
        found.append(Report.happened.contains(f"{BAR}{wanted.happened}{BAR}", autoescape=True))
    if wanted.apart:
        found.append(Report.quarantined == (wanted.apart == "yes"))
    if wanted.state == "repeat":
        found.append(Report.repeats.is_not(None))
    elif wanted.state:
        found.append(Report.waiting == (wanted.state == "waiting"))
    if wanted.state == "reviewed":
        found.append(Report.reviewed_at.is_not(None))
    return found


def _times(
    wanted: Filter, zone: ZoneInfo, faults: dict[str, str]
) -> list[ColumnElement[bool]]:
    found: list[ColumnElement[bool]] = []
    since = _moment("since", wanted.since, zone, faults)
    until = _moment("until", wanted.until, zone, faults, end=True)
    if since:
        found.append(Report.observed_est_at >= since)
    if until:
        found.append(Report.observed_est_at < until)
    if since and until and since >= until:
        faults["until"] = "This is not after the other time. Type a later one."
    return found


def _moment(
    name: str, text: str | None, zone: ZoneInfo, faults: dict[str, str], *, end: bool = False
) -> datetime | None:
    """Read a day or a time by the desk's clock; as an end, a day or minute counts whole."""
    if text is None:
        return None
    try:
        moment = datetime.fromisoformat(text)
        whole = timedelta(days=1) if len(text) == len("2026-11-25") else timedelta(minutes=1)
        if moment.tzinfo is None:
            moment = moment.replace(tzinfo=zone)
        if end and (moment.second, moment.microsecond) == (0, 0):
            moment = _later(moment, whole)
        return moment.astimezone(UTC)
    except (ValueError, OverflowError):
        faults[name] = "This is no time. Type a day or a time like 2026-11-25T06:40."
        return None


def _later(moment: datetime, by: timedelta) -> datetime:
    """Go on by the clock on the wall for a day, by the clock's hand for a minute."""
    if by == timedelta(days=1):
        return datetime.combine(moment.date() + by, time(), moment.tzinfo)
    return moment.astimezone(UTC) + by


def _place(
    wanted: Filter, bases: Mapping[str, Base], faults: dict[str, str]
) -> list[ColumnElement[bool]]:
    if wanted.place is None:
        return []
    base = bases.get(wanted.line or "")
    if base is None:
        faults["place"] = "A place belongs to a line. Choose the line too, or leave it out."
        return []
    places = {one.key: one for one in base.places}
    if wanted.place not in places:
        known = ", ".join(places) or "none"
        faults["place"] = f"This line has no such place. Choose one of: {known}."
        return []
    at = places[wanted.place].at_m
    stops = [one.key for one in base.targets if one.place == wanted.place]
    near = Report.at_m.between(at - AROUND_M, at + AROUND_M)
    return [or_(Report.target.in_(stops), and_(Report.target.is_(None), near))]
