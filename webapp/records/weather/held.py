"""The weather of each line as the depot holds it: the newest reading, and changes by hand.

Kept whole: a reading replaces the one before it, and goes 30 days after it was read. A person
may only make a state worse for some hours; taking that back needs a second person.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import asin, ceil, cos, radians, sin, sqrt
from typing import Any

from sqlalchemy import delete, select
from sqlalchemy.orm import Session

from calc.weather.observation import Hour
from webapp.lines.base import Base
from webapp.plain.jsontext import rfc3339
from webapp.records.weather.columns import Columns, mapping_of
from webapp.records.weather.faults import WeatherFault, WeatherFaults
from webapp.records.weather.models import WeatherChange, WeatherColumns, WeatherReading
from webapp.records.weather.reader import HOUR, Observed
from webapp.store import audit
from webapp.store.edits import Faults

Point = tuple[float, float]
KEPT = timedelta(days=30)
#: Older than this a reading proposes nothing any more. Own number.
TOO_OLD = timedelta(hours=12)
#: A station farther away says little of the line. Own number. [km]
FAR_KM = 25.0
#: And one farther than this nothing: it is refused. Own number. [km]
TOO_FAR_KM = 150.0
#: Hours before the first one shown that are kept for the rain: see `service.LOOK_BACK`.
BEFORE, AHEAD = 24 * 7, 24 * 5
#: The longest a person's change lasts: as far as the page looks.
LONGEST_CHANGE = timedelta(hours=36)
EARTH_KM = 6371.0


class Refused(Exception):
    """Why a change cannot be taken back."""


@dataclass(frozen=True)
class Station:
    """Where the weather is of; None and nothing: nobody said."""

    name: str = ""
    at: Point | None = None


@dataclass(frozen=True)
class Given:
    """Hours of weather, what gave them, and the station they are of."""

    hours: tuple[Observed, ...]
    source: str
    station: Station = Station()
    #: When it was new, where that is not now.
    at: datetime | None = None
    #: How far its station is from the line, where that is known already. [km]
    away_km: float | None = None


def keep(session: Session, base: Base, given: Given, who: str, now: datetime) -> uuid.UUID:
    """Keep a reading in place of the line's former one.

    Raises
    ------
    WeatherFaults
        If it has no hour ahead, or its station is too far away; nothing is kept then.
    """
    line = base.key
    away = distance_km(base, given.station.at) if given.station.at else given.away_km
    faults = list(_unfit(given, away, now))
    if faults:
        raise WeatherFaults(given.source, faults)
    kept = [
        _row(one) for one in given.hours if now - HOUR * BEFORE < one.time < now + HOUR * AHEAD
    ]
    name = uuid.uuid4()
    session.execute(delete(WeatherReading).where(WeatherReading.read_at < now - KEPT))
    session.execute(delete(WeatherChange).where(WeatherChange.until_at < now - KEPT))
    session.add(
        WeatherReading(
            id=name,
            line_key=line,
            read_at=now,
            given_at=given.at or now,
            read_by=who,
            source=given.source[:200],
            station=given.station.name[:120],
            away_km=away,
            hours=kept,
        )
    )
    said = {"line": line, "source": given.source[:200], "hours": len(kept)}
    audit.record(session, now, who, "weather.read", str(name), {}, said)
    return name


def _unfit(given: Given, away: float | None, now: datetime) -> list[WeatherFault]:
    found = []
    if not given.hours or given.hours[-1].time <= now:
        last = f", its last is {given.hours[-1].time:%Y-%m-%dT%H:%MZ}" if given.hours else ""
        cure = "give hours that are still to come; past ones may stand before them"
        found.append(WeatherFault(0, "time", f"every hour in it has passed{last}", cure))
    elif given.hours[0].time > now + HOUR:
        problem = (
            f"its first hour is {given.hours[0].time:%Y-%m-%dT%H:%MZ}, later than the next"
        )
        found.append(WeatherFault(0, "time", problem, "give the hours from now on"))
    if away is not None and away > TOO_FAR_KM:
        problem = f"its station is {away:.0f} km from the line"
        cure = f"give weather from within {TOO_FAR_KM:.0f} km; look at latitude and longitude"
        found.append(WeatherFault(0, "station", problem, cure))
    return found


def distance_km(base: Base, at: Point | None) -> float | None:
    """Return how far a station is from the nearest place of a line. [km]."""
    points = [(point[1], point[0]) for point in base.way]
    if at is None or not points:
        return None
    ends = zip(points, points[1:] or points, strict=False)
    return min(_between(at, place) for pair in ends for place in _on_the_way(*pair))


def _on_the_way(one: Point, other: Point) -> Iterator[Point]:
    """Walk from one point to another, a place each kilometre."""
    steps = max(1, ceil(_between(one, other)))
    for n in range(steps + 1):
        share = n / steps
        yield one[0] + share * (other[0] - one[0]), one[1] + share * (other[1] - one[1])


def _between(one: Point, other: Point) -> float:
    """Return the distance on a sphere, by the haversine formula. [km]."""
    (a, b), (c, d) = (tuple(map(radians, point)) for point in (one, other))
    half = sin((c - a) / 2) ** 2 + cos(a) * cos(c) * sin((d - b) / 2) ** 2
    return 2 * EARTH_KM * asin(min(1.0, sqrt(half)))


def _row(one: Observed) -> list[Any]:
    hour = one.hour
    figures = (hour.air, hour.humidity, hour.dew_point, hour.rain, hour.wind, hour.cloud)
    return [rfc3339(one.time), *figures, hour.word]


def hours_of(row: WeatherReading) -> tuple[Observed, ...]:
    """Return the hours of a reading as they were given."""
    return tuple(
        Observed(
            datetime.fromisoformat(time), Hour(air, humidity, dew, rain, wind, cloud, word)
        )
        for time, air, humidity, dew, rain, wind, cloud, word in row.hours
    )


def too_old(row: WeatherReading, now: datetime) -> bool:
    """Tell whether a reading proposes nothing any more; one from after now is no younger."""
    return not timedelta(0) <= now - row.given_at <= TOO_OLD


def latest(session: Session, line: str) -> WeatherReading | None:
    """Return the reading that counts for a line; None if there is none."""
    query = select(WeatherReading).where(WeatherReading.line_key == line)
    newest = query.order_by(WeatherReading.read_at.desc(), WeatherReading.id.desc())
    return session.scalars(newest.limit(1)).first()


def typed_over(
    row: WeatherReading | None, now: Observed, dry_hours: int | None
) -> tuple[Observed, ...]:
    """Return the held hours with this one as a person typed it, and dry ones before it."""
    held = {one.time: one.hour for one in (hours_of(row) if row else ())}
    for back in range(1, (dry_hours or 0) + 1):
        before = held.get(now.time - HOUR * back, Hour())
        held[now.time - HOUR * back] = Hour(
            before.air, before.humidity, before.dew_point, 0.0, before.wind, before.cloud
        )
    held[now.time] = now.hour
    return tuple(Observed(time, held[time]) for time in sorted(held))


def columns_of(session: Session, line: str) -> Columns | None:
    """Return which column of a line's files is which, as it was said last."""
    row = session.get(WeatherColumns, line)
    return None if row is None else mapping_of(row.columns)


def keep_columns(
    session: Session, line: str, columns: Columns, who: str, now: datetime
) -> None:
    """Remember which column of a line's files is which."""
    row, said = session.get(WeatherColumns, line), columns.kept()
    if row is not None and row.columns == said:
        return
    old = {} if row is None else dict(row.columns)
    if row is None:
        session.add(
            WeatherColumns(line_key=line, columns=said, changed_at=now, changed_by=who)
        )
    else:
        row.columns, row.changed_at, row.changed_by = said, now, who
    audit.record(session, now, who, "weather.columns", line, old, said)


def changes(session: Session, line: str, now: datetime) -> list[WeatherChange]:
    """Return what a person made worse, taken back or not, until it is over; newest first."""
    query = select(WeatherChange).where(
        WeatherChange.line_key == line, WeatherChange.until_at > now - HOUR
    )
    return list(session.scalars(query.order_by(WeatherChange.set_at.desc(), WeatherChange.id)))


def make_worse(
    session: Session, base: Base, typed: Mapping[str, Any], who: str, now: datetime
) -> uuid.UUID:
    """Set a floor for some hours of a line: no state proposed in them is better.

    Raises
    ------
    Faults
        With every fault of what was typed; nothing is kept then.
    """
    faults = []
    pickable = [one.key for one in base.pickable]
    if typed["state"] not in pickable:
        faults.append("state: Choose one of the states a driver may pick.")
    if typed["until_at"] <= max(now, typed["from_at"]):
        faults.append("until_at: Not after the start, or over already.")
    if typed["until_at"] > now + LONGEST_CHANGE:
        faults.append("until_at: At most 36 hours from now. Set it again when they are over.")
    if faults:
        raise Faults(faults)
    name, line = uuid.uuid4(), base.key
    said = {key: typed[key] for key in ("state", "from_at", "until_at", "reason")}
    session.add(WeatherChange(id=name, line_key=line, set_at=now, set_by=who, **said))
    told = {**said, "line": line, "from_at": rfc3339(said["from_at"])}
    told["until_at"] = rfc3339(said["until_at"])
    audit.record(session, now, who, "weather.worse", str(name), {}, told)
    return name


def take_back(session: Session, name: uuid.UUID, why: str, who: str, now: datetime) -> str:
    """End what another person made worse; return the key of its line.

    Raises
    ------
    LookupError
        If there is no such change.
    Refused
        If it was taken back already, or set by the same person.
    """
    query = select(WeatherChange).where(WeatherChange.id == name).with_for_update()
    row = session.scalar(query)
    if row is None:
        raise LookupError(name)
    if row.back_at is not None:
        raise Refused(f"{row.back_by} has taken it back already.")
    if row.set_by == who:
        raise Refused("You set it: somebody else takes it back. Better needs a second person.")
    row.back_at, row.back_by, row.back_why = now, who, why
    old = {"line": row.line_key, "state": row.state, "set_by": row.set_by}
    audit.record(session, now, who, "weather.taken_back", str(name), old, {"reason": why})
    return row.line_key
