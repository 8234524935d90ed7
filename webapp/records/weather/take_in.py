"""Take in the weather of a line: from a file in either form, or this hour as typed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

from marshmallow import ValidationError
from sqlalchemy.orm import Session

from calc.weather.observation import Hour
from webapp.lines.base import Base
from webapp.records.weather import held, hourly
from webapp.records.weather.faults import WeatherFault, WeatherFaults, faults_of
from webapp.records.weather.reader import (
    HOUR,
    LARGEST,
    Observed,
    headings_of,
    hour_from,
    read_observations,
)
from webapp.records.weather.rows import COLUMNS, TypedSchema

#: More columns than this are no table of weather.
MOST_HEADINGS = 60


class ColumnsUnknown(Exception):
    """The file's columns are neither ours nor those that were mapped for this line."""


def file(
    session: Session,
    base: Base,
    content: bytes,
    name: str,
    station: held.Station,
    zone: ZoneInfo,
    who: str,
    now: datetime,
) -> None:
    """Keep the hours of a file as the weather of a line.

    Parameters
    ----------
    session : Session
    base : dict
        Of the line's pack in use.
    content : bytes
    name : str
        Of the file, for the messages.
    station : Station
        As a person typed it; an answer that names its own point wins.
    zone : ZoneInfo
        Of the desk.
    who : str
    now : datetime

    Raises
    ------
    ColumnsUnknown
        If a person has to say first which column is which.
    WeatherFaults
        With every fault; nothing is kept then.
    """
    if hourly.looks_like_it(content):
        answer = hourly.read_hourly(content, name)
        if answer.at is not None:
            station = replace(station, at=answer.at)
        hours: tuple[Observed, ...] = answer.hours
    else:
        hours = _rows(session, base, content, name, zone)
    held.keep(session, base, held.Given(hours, name, station), who, now)


def _rows(
    session: Session, base: Base, content: bytes, name: str, zone: ZoneInfo
) -> tuple[Observed, ...]:
    headings = headings_of(content)
    mapped = held.columns_of(session, base.key)
    if mapped is not None and mapped.fits(headings):
        return read_observations(content, name, mapped, zone)
    # Too large, no CSV, empty: its own faults say so. Some of our names: they are meant.
    if headings and len(content) <= LARGEST and not set(headings) <= set(COLUMNS):
        raise ColumnsUnknown
    return read_observations(content, name)


def unreadable(name: str, headings: Sequence[str], long: bool) -> WeatherFaults:
    """Return why no columns can be chosen for a file."""
    if long:
        cure = "give fewer hours, or name the columns as here"
        return WeatherFaults(name, [WeatherFault(0, "", "it is too large to be mapped", cure)])
    problem = f"it has {len(headings)} columns" if headings else "it has no heading"
    cure = f"give it a heading of 1 to {MOST_HEADINGS} names"
    return WeatherFaults(name, [WeatherFault(1, "", problem, cure)])


def typed(
    session: Session,
    base: Base,
    values: Mapping[str, str],
    dry_hours: int | None,
    who: str,
    now: datetime,
) -> None:
    """Keep this hour as a person sees it, over what is held of the line.

    Raises
    ------
    WeatherFaults
        With every field that cannot be taken.
    """
    hour = hour_typed(values)
    if not any(values.values()):
        fault = WeatherFault(0, "air_c", "nothing was typed", "fill in what you see")
        raise WeatherFaults("typed values", [fault])
    # The hour that is not over yet: it stands at its end, as in a file.
    at = now.astimezone(UTC).replace(minute=0, second=0, microsecond=0) + HOUR
    row = held.latest(session, base.key)
    if row is not None and held.too_old(row, now):
        row = None
    hours = held.typed_over(row, Observed(at, hour), dry_hours)
    given = held.Given(hours, "typed at the desk")
    if row is not None:
        source = row.source.removeprefix("typed at the desk, over ")
        given = held.Given(
            hours, f"typed at the desk, over {source}", held.Station(row.station),
            row.given_at, row.away_km,
        )  # fmt: skip
    held.keep(session, base, given, who, now)


def hour_typed(values: Mapping[str, Any]) -> Hour:
    """Return the hour of typed values; a missing or empty one was not observed.

    Raises
    ------
    WeatherFaults
        With every field that cannot be taken.
    """
    try:
        return hour_from(TypedSchema().load(values))
    except ValidationError as error:
        raise WeatherFaults("typed values", faults_of(0, error)) from None
    except ValueError as problem:
        fault = WeatherFault(0, "dew_point_c", str(problem), "mend one of the two")
        raise WeatherFaults("typed values", [fault]) from None
