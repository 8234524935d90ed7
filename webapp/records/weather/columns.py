"""A depot's own file of weather: which of its columns is which of ours, and in what unit.

Mapped once by a person and remembered for the line. A figure is turned into our unit before it
is looked at, so that every range and message is the same whatever the file is written in.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

from webapp.records.weather.rows import COLUMNS

Json = dict[str, Any]
#: Units of each column: words for the form, and scale and offset into our own unit.
TEMPERATURE = {
    "degC": ("°C", 1.0, 0.0),
    "degF": ("°F", 1.0 / 1.8, -32.0 / 1.8),
    "K": ("K", 1.0, -273.15),
}
UNITS: dict[str, dict[str, tuple[str, float, float]]] = {
    "air_c": TEMPERATURE,
    "dew_point_c": TEMPERATURE,
    "humidity_percent": {"percent": ("%", 1.0, 0.0), "share": ("share of 1", 100.0, 0.0)},
    # 1 inch is 25.4 mm, 1 mph 0.44704 m/s, 1 knot 1852 m/h: exact by definition.
    "rain_mm": {"mm": ("mm", 1.0, 0.0), "in": ("inches", 25.4, 0.0)},
    "wind_mps": {
        "m/s": ("m/s", 1.0, 0.0),
        "km/h": ("km/h", 1.0 / 3.6, 0.0),
        "mph": ("mph", 0.44704, 0.0),
        "kn": ("knots", 1852.0 / 3600.0, 0.0),
    },
    "cloud_oktas": {
        "eighths": ("eighths", 1.0, 0.0),
        "percent": ("%", 0.08, 0.0),
        "tenths": ("tenths", 0.8, 0.0),
        "share": ("share of 1", 8.0, 0.0),
    },
    "weather": {"word": ("one of our words", 1.0, 0.0)},
}
#: How the file writes its times.
CLOCKS = {
    "offset": "with the offset from UTC",
    "utc": "UTC",
    "line": "the desk's own clock",
}
#: What a form calls each column.
LABELS = {
    "time": "Time, at the end of its hour",
    "air_c": "Air temperature",
    "humidity_percent": "Relative humidity",
    "dew_point_c": "Dew point",
    "rain_mm": "Rain of the hour, as water",
    "wind_mps": "Wind",
    "cloud_oktas": "Cloud",
    "weather": "Weather in a word",
}
_NUMBER = re.compile(r"[+-]?\d+([.,]\d+)?")
MOST_HEADINGS = 60


@dataclass(frozen=True)
class Column:
    """The column of a file that is one of ours, and its unit or clock."""

    heading: str
    unit: str


@dataclass(frozen=True)
class Columns:
    """Which column of a file is which; what is not named is not used."""

    columns: Mapping[str, Column]

    def fits(self, headings: Sequence[str]) -> bool:
        """Tell whether a file has every column that is named here, each once."""
        return all(headings.count(one.heading) == 1 for one in self.columns.values())

    def kept(self) -> Json:
        """Return it as it is stored."""
        return {
            name: {"heading": one.heading, "unit": one.unit}
            for name, one in self.columns.items()
        }


def mapping_of(kept: Mapping[str, Mapping[str, str]]) -> Columns:
    """Return a mapping as it was stored.

    Raises
    ------
    ValueError
        If a column or unit is not known, time is missing, or one heading is used twice.
    """
    found = {name: Column(str(one["heading"]), str(one["unit"])) for name, one in kept.items()}
    faults = []
    if "time" not in found:
        faults.append("time: Say which column holds the time.")
    for name, one in found.items():
        if name not in COLUMNS:
            faults.append(f"{name}: No such column here.")
        elif one.unit not in (CLOCKS if name == "time" else UNITS[name]):
            faults.append(f"{name}: Choose a unit.")
    used = [one.heading for one in found.values()]
    faults += [
        f"{name}: The column '{one.heading}' is used twice. Choose another for one of them."
        for name, one in found.items()
        if used.count(one.heading) > 1
    ]
    if faults:
        raise ValueError("\n".join(faults))
    return Columns(found)


def in_our_unit(name: str, text: str, unit: str) -> str:
    """Return a cell in our own unit; what is no number is left for the row's own fault."""
    _, scale, offset = UNITS[name][unit]
    if name == "weather" or not _NUMBER.fullmatch(text):
        return text
    if scale == 1.0 and offset == 0.0:
        return text.replace(",", ".")
    number = float(text.replace(",", ".")) * scale + offset
    return f"{number:.4f}".rstrip("0").rstrip(".")


def with_offset(text: str, clock: str, zone: ZoneInfo, before: datetime | None) -> str:
    """Return a time with its offset from UTC.

    Parameters
    ----------
    text : str
        As the file has it.
    clock : str
        One of `CLOCKS`.
    zone : ZoneInfo
        Of the desk.
    before : datetime or None
        Time of the row above: of two hours that the clock shows twice in autumn, the second
        is meant where the first is not later than it.

    Raises
    ------
    ValueError
        With "problem | cure", if the clock never showed this time.
    """
    if clock == "offset":
        return text
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        return text
    if moment.tzinfo is not None:
        return text
    if clock == "utc":
        return moment.replace(tzinfo=UTC).isoformat()
    first, second = (moment.replace(tzinfo=zone, fold=n).astimezone(UTC) for n in (0, 1))
    if first.astimezone(zone).replace(tzinfo=None) != moment:
        raise ValueError(
            f"the clock went forward past '{text}', there was none | look at the clock chosen"
        )
    return (second if before is not None and first <= before else first).isoformat()
