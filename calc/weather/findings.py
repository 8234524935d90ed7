"""What the weather alone says of the rail: findings, each with its reason in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from .humidity import dew_point_from_humidity, frost_point_from_humidity
from .observation import Hour
from .rail_temperature import night_rail_temperature
from .rain import Wetting, wetting
from .season import in_days, incident_hour, leaf_fall_days
from .sun import rail_keeps_night

#: Air this near its dew point leaves moisture on a rail; the second in the hours of more
#: incidents. Assumption, after: high humidity lowers friction whatever the rail
#: temperature (doi 10.1177/09544097221148236). [K]
NEAR_DEW, NEAR_DEW_INCIDENT_HOURS = 2.0, 3.0
#: Rain that a weather word tells of where the gauge shows none. Assumption: a trace. [mm]
TRACE = 0.1
#: Every reason a finding may have.
REASONS = (
    *("dry", "dew-likely", "first-rain", "light-rain", "steady-rain", "drying", "mist"),
    *("near-dew", "dew", "leaf-residue", "frozen-rain", "frost-seen", "snow", "frost", "leaf"),
)
#: The reason of each kind of rain.
_RAIN = {
    Wetting.FIRST: "first-rain",
    Wetting.LIGHT: "light-rain",
    Wetting.STEADY: "steady-rain",
    Wetting.DRYING: "drying",
}


@dataclass(frozen=True)
class Place:
    """Where and when; None is "not known".

    Attributes
    ----------
    day : int or None
        Day of the year, see `season.day_of_year`.
    hour : float or None
        Hour of the day, local time. [h]
    latitude : float or None
        North positive. [deg]
    leafy : bool or None
        Whether leaf fall is known on this line.
    season : tuple of int, optional
        First and last day of the company's own leaf-fall season; without it the
        latitude gives a guide.
    sun_hour : float or None
        Hour of the day by the sun, 12 at its highest; without it the clock's. In summer time
        or far west in its zone a clock is ahead of the sun, and a rail in the morning colder
        than by the clock. [h]
    """

    day: int | None = None
    hour: float | None = None
    latitude: float | None = None
    leafy: bool | None = None
    season: tuple[int, int] | None = None
    sun_hour: float | None = None

    @property
    def in_season(self) -> bool | None:
        """Whether it is leaf-fall season; None if date or place are not known."""
        days = self.season
        if days is None and self.latitude is not None:
            days = leaf_fall_days(self.latitude)
        if days is None or self.day is None:
            return None
        return in_days(self.day, *days)

    @property
    def night(self) -> bool | None:
        """Whether the rail still has the night's temperature; None if not known."""
        hour = self.hour if self.sun_hour is None else self.sun_hour
        if self.day is None or hour is None or self.latitude is None:
            return None
        return rail_keeps_night(self.day, self.latitude, hour)


@dataclass(frozen=True)
class Finding:
    """One condition of the rail and why it is thought so.

    Attributes
    ----------
    condition : str
        One of `chain.CONDITIONS`.
    code : str
        The reason without its figures, one of `REASONS`; a screen has words for each.
    words : str
        The reason in English, with its figures.
    wetting : Wetting or None
        What rain has made of the rail, where it is rain.
    """

    condition: str
    code: str
    words: str
    wetting: Wetting | None = None


@dataclass(frozen=True)
class Look:
    """All findings, what was not known, and whether "dry" would be known."""

    findings: tuple[Finding, ...]
    unknown: tuple[str, ...]
    dry_is_known: bool


def look(now: Hour, rain: Sequence[float | None], place: Place) -> Look:
    """Return what weather, date and hour say of the rail.

    Parameters
    ----------
    now : Hour
    rain : sequence of float or None
        Rain in each hour, oldest first, the present hour last. [mm]
    place : Place

    Raises
    ------
    ValueError
        If the last hour of ``rain`` is not this hour's.
    """
    if not rain or rain[-1] != now.rain:
        raise ValueError("the last hour of the rain must be the present hour's")
    unknown: list[str] = []
    wet = wetting(_with_word(now, rain))
    if wet is None:
        unknown.append("rain of the last hours: not known")
    findings = from_rain(wet, now) + from_word(now)
    moist = now.moisture
    if now.air is None or moist is None:
        unknown.append("air temperature or humidity: not known, so no dew point")
    else:
        findings += _from_air(now.air, moist, now, place, wet, unknown)
    if place.in_season is None:
        unknown.append("season: not known, counted as leaf fall")
    known = wet is not None and now.air is not None and moist is not None
    return Look(tuple(findings), tuple(unknown), known)


def _with_word(now: Hour, rain: Sequence[float | None]) -> list[float | None]:
    """Let a word for rain count where the gauge shows none: drizzle often reads 0.0."""
    wet = now.word in ("drizzle", "rain") and not now.rain
    return [*rain[:-1], TRACE if wet else rain[-1]]


def from_rain(wet: Wetting | None, now: Hour) -> list[Finding]:
    """Return what the rain of the last hours does to the rail."""
    if wet is None or wet is Wetting.NONE:
        return []
    if now.air is not None and now.air <= 0.0:
        return [
            Finding("frost", "frozen-rain", f"{wet.value}, and the air at or below 0 °C", wet)
        ]
    condition = "wet" if wet is Wetting.STEADY else "damp"
    return [Finding(condition, _RAIN[wet], wet.value, wet)]


def from_word(now: Hour) -> list[Finding]:
    """Return what the word for this hour's weather says of the rail."""
    if now.word == "mist":
        return [Finding("damp", "mist", "mist")]
    if now.word == "frost":
        return [Finding("frost", "frost-seen", "frost seen")]
    if now.word == "snow":
        return [Finding("frost", "snow", "snow; it takes brake force too: local instructions")]
    return []


def _from_air(
    air: float,
    moist: float,
    now: Hour,
    place: Place,
    wet: Wetting | None,
    unknown: list[str],
) -> list[Finding]:
    """Return what dew and frost do; a rail that steady rain washes has no dew to add."""
    rail = _rail_temperature(air, moist, now, place, unknown)
    dew = float(dew_point_from_humidity(air, moist))
    frost = float(frost_point_from_humidity(air, moist))
    if rail <= 0.0 and (rail <= frost or rail <= dew):
        return [
            Finding(
                "frost", "frost", f"rail near {rail:.1f} °C by a simple model: frost forms"
            )
        ]
    if wet is Wetting.STEADY:
        return []
    if rail <= dew:
        words = f"rail near {rail:.1f} °C by a simple model, dew point {dew:.1f} °C: dew forms"
        return [Finding("damp", "dew", words)]
    often = place.hour is not None and incident_hour(place.hour)
    near = NEAR_DEW_INCIDENT_HOURS if often else NEAR_DEW
    if air - dew > near:
        return []
    when = ", at an hour of more incidents" if often else ""
    return [
        Finding("damp", "near-dew", f"air within {air - dew:.1f} K of its dew point{when}")
    ]


def _rail_temperature(
    air: float, moist: float, now: Hour, place: Place, unknown: list[str]
) -> float:
    """Return the rail's temperature: the night model's, or by day the air's."""
    night = place.night
    if night is False:
        return air
    if night is None:
        unknown.append("date, hour or latitude: not known, counted as night")
    if now.cloud is None:
        unknown.append("cloud: not known, counted as none")
    if now.wind is None:
        unknown.append("wind: not known, counted as calm")
    cloud = 0.0 if now.cloud is None else now.cloud
    wind = 0.0 if now.wind is None else now.wind
    return float(night_rail_temperature(air, moist, cloud, wind))
