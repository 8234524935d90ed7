"""What other rooms may ask: a suggested rail state from typed weather or from a file."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from calc.weather.chain import CONDITIONS, Chain
from calc.weather.findings import Place
from calc.weather.observation import Hour
from calc.weather.season import day_of_year
from calc.weather.suggest import Suggestion, suggest
from calc.weather.sun import sun_hour
from webapp.lines.base import State
from webapp.records.weather.reader import HOUR, Observed

#: How far back the file is looked at. [h]
LOOK_BACK = 24 * 7
#: Words of the weather for states whose key is another; a company gives its own.
AS_NAMED = {condition: condition for condition in CONDITIONS}


@dataclass(frozen=True)
class Where:
    """Where the suggestion is for.

    Attributes
    ----------
    zone : ZoneInfo
        Of the line, for the hour of the day.
    latitude : float or None
        North positive. [deg]
    leafy : bool or None
        Whether leaf fall is known on the line.
    longitude : float or None
        East positive: from it the hour by the sun. [deg]
    season : (str, str) or None
        The company's own leaf-fall season, "MM-DD" both.
    """

    zone: ZoneInfo
    latitude: float | None = None
    leafy: bool | None = None
    season: tuple[str, str] | None = None
    longitude: float | None = None


def chain_of(states: Sequence[State], means: Mapping[str, str] | None = None) -> Chain:
    """Return the chain of a pack's base (its ``states``), best first.

    Raises
    ------
    ValueError
        If a word of the weather has no state in this chain.
    """
    named = AS_NAMED | dict(means or {})
    return Chain(
        keys=tuple(state.key for state in states),
        pickable=tuple(state.pickable for state in states),
        means=tuple(named.items()),
    )


def suggest_from_file(
    chain: Chain,
    observed: Sequence[Observed],
    where: Where,
    at: datetime,
    signs: Sequence[str] = (),
) -> Suggestion:
    """Suggest a rail state from the hours of a file up to a moment.

    The row of the last full hour before ``at`` is the present one, its rain the rain of
    the hour up to it, as stations report; if the file has no such row, all of it is
    unknown: an older row never stands for it.

    Raises
    ------
    ValueError
        If a sign or the time cannot be.
    """
    place = place_at(where, at)
    moment = at.astimezone(UTC).replace(minute=0, second=0, microsecond=0)
    by_time = {row.time: row.hour for row in observed}
    oldest = min(by_time, default=moment)
    back = min(LOOK_BACK, max(int((moment - oldest) / HOUR), 0))
    times = [moment - timedelta(hours=hours) for hours in range(back, -1, -1)]
    hours = [by_time.get(time, Hour()) for time in times]
    return suggest(chain, hours[-1], [hour.rain for hour in hours], place, signs)


def place_at(where: Where, at: datetime) -> Place:
    """Return place, day and local hour of a moment.

    Raises
    ------
    ValueError
        If the moment names no offset from UTC, or a season's day does not exist.
    """
    if at.tzinfo is None:
        raise ValueError("the time must name its offset from UTC")
    local = at.astimezone(where.zone)
    season = where.season
    return Place(
        day=day_of_year(local.month, local.day),
        hour=local.hour + local.minute / 60.0,
        latitude=where.latitude,
        leafy=where.leafy,
        season=(_day(season[0]), _day(season[1])) if season else None,
        sun_hour=None if where.longitude is None else _sun_hour(at, where.longitude),
    )


def _sun_hour(at: datetime, longitude: float) -> float:
    utc = at.astimezone(UTC)
    day = day_of_year(utc.month, utc.day)
    return sun_hour(day, utc.hour + utc.minute / 60.0, longitude)


def _day(month_day: str) -> int:
    month, _, day = month_day.partition("-")
    if not (month.isdigit() and day.isdigit()):
        raise ValueError(f"'{month_day}' is not a day: write it like 10-01 for 1 October")
    return day_of_year(int(month), int(day))
