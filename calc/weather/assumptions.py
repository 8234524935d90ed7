"""What the weather modules assume without a source: what, value, basis, for the app's list."""

from __future__ import annotations

from .asked import CLOCK_AHEAD, DEW_HOURS
from .findings import NEAR_DEW, NEAR_DEW_INCIDENT_HOURS, TRACE
from .rail_temperature import RailSurface
from .rain import RainRules
from .season import BRITISH_LATITUDE, DAYS_PER_DEGREE, KNOWN_LATITUDES
from .sun import LOW_SUN


def assumptions() -> tuple[tuple[str, str, str], ...]:
    """Return (what, value, basis) of every assumption, values as they are used."""
    return (
        *_of_rail(RailSurface()),
        *_of_rain(RainRules()),
        *_of_season(),
        *_of_signs(),
        *_of_asked(),
    )


def _of_sun() -> tuple[str, str, str]:
    return (
        "sun above which the rail counts as warmed",
        f"{LOW_SUN:g} degrees",
        "assumption: no source",
    )


def _of_rail(rail: RailSurface) -> tuple[tuple[str, str, str], ...]:
    return (
        ("emissivity of a rail", f"{rail.emissivity:g}", "assumption: rusty sides"),
        (
            "share of a rail's surface that sees the sky",
            f"{rail.sky_share:g}",
            "assumption: head and a part of the sides",
        ),
        (
            "heat from air to rail",
            f"{rail.still_air:g} + {rail.by_wind:g} v W/(m2 K)",
            "McAdams's formula for a plate, from memory",
        ),
        ("heat stored in the rail", "none", "assumption: late in the night"),
        _of_sun(),
    )


def _of_rain(rain: RainRules) -> tuple[tuple[str, str, str], ...]:
    return (
        (
            "rain that can wash a rail",
            f"{rain.steady_rate:g} mm in the hour",
            "end of slight rain in British forecasts, from memory",
        ),
        (
            "rain of one spell that has washed it",
            f"{rain.washed:g} mm",
            "assumption: no source",
        ),
        ("dry for so long, a rain is the first", f"{rain.dry_hours} h", "assumption: a day"),
        ("dry hours that do not end a spell", f"{rain.gap_hours} h", "assumption: no source"),
        ("a rail dries after rain for", f"{rain.drying_hours} h", "assumption: no source"),
        ("drizzle that a gauge does not show", f"{TRACE:g} mm", "assumption: a trace"),
    )


def _of_season() -> tuple[tuple[str, str, str], ...]:
    low, high = KNOWN_LATITUDES
    return (
        (
            "latitude of the British leaf-fall dates",
            f"{BRITISH_LATITUDE:g} degrees",
            "assumption: the middle of the railway",
        ),
        (
            "leaves fall earlier by",
            f"{DAYS_PER_DEGREE:g} days for each degree",
            "assumption: half of Hopkins's four days, which hold in spring",
        ),
        ("latitudes with a leaf-fall season", f"{low:g} to {high:g} degrees", "assumption"),
    )


def _of_signs() -> tuple[tuple[str, str, str], ...]:
    return (
        (
            "air this near its dew point leaves moisture on a rail",
            f"{NEAR_DEW:g} K, in the hours of more incidents {NEAR_DEW_INCIDENT_HOURS:g} K",
            "assumption: high humidity lowers friction whatever the rail temperature",
        ),
        ("a slide or a slip at the start", "one state worse", "common practice, no source"),
    )


def _of_asked() -> tuple[tuple[str, str, str], ...]:
    return (
        (
            "nothing seen, but dew may lie along the line",
            f"{DEW_HOURS[0]}:00 to {DEW_HOURS[1]}:00 while the sun is low",
            "assumption: after the hours of more incidents",
        ),
        (
            "a clock may be ahead of the sun by",
            f"{CLOCK_AHEAD} h",
            "assumption: summer time, a line far west in its zone",
        ),
        ("steady rain for an hour or more washes a rail", "yes", "assumption: no source"),
    )
