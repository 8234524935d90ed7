"""Read the JSON of hourly arrays that open forecast interfaces answer with, as it stands.

``{"hourly": {"time": [...], "temperature_2m": [...], ...}, "hourly_units": {...},
"utc_offset_seconds": n, "latitude": x, "longitude": y}``: one array a quantity, all as long as
``time``; null is "not known". Units are taken from ``hourly_units`` and never guessed.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from webapp.plain import jsontext
from webapp.records.weather.columns import in_our_unit
from webapp.records.weather.faults import WeatherFault, WeatherFaults
from webapp.records.weather.reader import LARGEST, Observed, check_order, observed

Json = Mapping[str, Any]
#: Their names of what we read. Precipitation is of the hour before its time, as a station's.
NAMES = {
    "temperature_2m": "air_c",
    "relative_humidity_2m": "humidity_percent",
    "dew_point_2m": "dew_point_c",
    "precipitation": "rain_mm",
    "wind_speed_10m": "wind_mps",
    "cloud_cover": "cloud_oktas",
}
UNITS = {
    "air_c": {"°C": "degC", "°F": "degF", "K": "K"},
    "dew_point_c": {"°C": "degC", "°F": "degF", "K": "K"},
    "humidity_percent": {"%": "percent"},
    "rain_mm": {"mm": "mm", "inch": "in"},
    "wind_mps": {"m/s": "m/s", "ms": "m/s", "km/h": "km/h", "mp/h": "mph", "mph": "mph"}
    | {"kn": "kn"},
    "cloud_oktas": {"%": "percent"},
}
CODE = "weather_code"
#: Words for codes of present weather, WMO-No. 306, code table 4677. From memory.
WORDS = (
    *((code, "mist") for code in (10, 45, 48)),
    *((code, "drizzle") for code in range(50, 60)),
    *((code, "rain") for code in (*range(60, 68), 80, 81, 82)),
    *((code, "snow") for code in (68, 69, *range(70, 80), *range(83, 89))),
)
LONGEST = 24 * 40


@dataclass(frozen=True)
class Answer:
    """What such an answer holds: its hours, and the point they are for, where it says so."""

    hours: tuple[Observed, ...]
    at: tuple[float, float] | None


def looks_like_it(content: bytes) -> bool:
    """Tell whether a file is JSON rather than rows of cells."""
    return content.lstrip(b"\xef\xbb\xbf \t\r\n")[:1] in (b"{", b"[")


def read_hourly(content: bytes, file: str) -> Answer:
    """Return the hours of an answer, the oldest first.

    Raises
    ------
    WeatherFaults
        With every fault; a row is the place in the arrays, counted from 1.
    """
    faults: list[WeatherFault] = []
    found = _answer(content, faults)
    if faults:
        raise WeatherFaults(file, faults)
    return found


def _answer(content: bytes, faults: list[WeatherFault]) -> Answer:
    nothing = Answer((), None)
    if len(content) > LARGEST:
        faults.append(WeatherFault(0, "", "it is too large", f"give up to {LARGEST} bytes"))
        return nothing
    try:
        body = jsontext.loads(content.decode("utf-8-sig"))
    except (UnicodeDecodeError, ValueError, RecursionError):
        cure = "give the answer whole, as it came"
        faults.append(WeatherFault(0, "", "it is not JSON in UTF-8, or cut off", cure))
        return nothing
    hourly = body.get("hourly") if isinstance(body, dict) else None
    if not isinstance(hourly, dict) or not isinstance(hourly.get("time"), list):
        problem, cure = 'it has no "hourly" with a list "time"', "ask for hourly values"
        faults.append(WeatherFault(0, "hourly", problem, cure))
        return nothing
    arrays = _arrays(body, hourly, faults)
    times = _times(body, hourly["time"], faults)
    if faults:
        return nothing
    seen = []
    for number, row in enumerate(_rows(times, arrays), start=1):
        hour = observed(number, row, faults, {name: theirs for theirs, name in NAMES.items()})
        if hour is not None:
            seen.append((number, hour))
    check_order(seen, faults)
    return Answer(tuple(row for _, row in seen), _point(body))


def _arrays(body: Json, hourly: Json, faults: list[WeatherFault]) -> dict[str, list[str]]:
    """Return each array that we read as cells of our own columns and units."""
    units = body.get("hourly_units")
    found: dict[str, list[str]] = {}
    for theirs, ours in NAMES.items():
        if theirs not in hourly:
            continue
        values, said = hourly[theirs], units.get(theirs) if isinstance(units, dict) else None
        unit = UNITS[ours].get(said) if isinstance(said, str) else None
        if unit is None:
            known = ", ".join(UNITS[ours])
            problem = f"the unit '{_short(said)}' in hourly_units is not known"
            faults.append(WeatherFault(0, theirs, problem, f"ask for one of {known}"))
        elif not _fits(values, hourly["time"], theirs, faults):
            continue
        else:
            found[ours] = [in_our_unit(ours, _cell(value), unit) for value in values]
    codes = hourly.get(CODE)
    if codes is not None and _fits(codes, hourly["time"], CODE, faults):
        words = dict(WORDS)
        found["weather"] = [
            words.get(one, "") if isinstance(one, int | float) else "" for one in codes
        ]
    if not found and not faults:
        cure = f"ask for {', '.join(NAMES)}"
        faults.append(WeatherFault(0, "hourly", "nothing in it is read here", cure))
    return found


def _fits(
    values: object, times: Sequence[object], name: str, faults: list[WeatherFault]
) -> bool:
    if isinstance(values, list) and len(values) == len(times):
        return True
    count = len(values) if isinstance(values, list) else "no list of"
    problem = f"{count} values stand beside {len(times)} times"
    faults.append(WeatherFault(0, name, problem, "give the answer whole, as it came"))
    return False


def _cell(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return _short(value) or "''"
    return f"{value:.4f}" if isinstance(value, float) else str(value)[:40]


def _short(value: object) -> str:
    return str(value)[:40]


def _times(body: Json, times: list[Any], faults: list[WeatherFault]) -> list[str]:
    if len(times) > LONGEST or not times:
        cure = f"give 1 to {LONGEST} hours"
        faults.append(WeatherFault(0, "time", f"it has {len(times)} hours", cure))
        return []
    offset = body.get("utc_offset_seconds")
    if isinstance(offset, bool) or not isinstance(offset, int) or abs(offset) > 14 * 3600:
        problem = "utc_offset_seconds is missing, or no whole number of seconds"
        cure = "give the answer whole, as it came"
        faults.append(WeatherFault(0, "utc_offset_seconds", problem, cure))
        return []
    return [_time(one, offset) for one in times]


def _time(value: object, offset: int) -> str:
    """Return a time in UTC; what is none is left for the row's own fault."""
    if isinstance(value, int) and not isinstance(value, bool) and 0 < value < 10**11:
        return datetime.fromtimestamp(value, UTC).isoformat()
    text = _short(value)
    try:
        moment = datetime.fromisoformat(text)
        if moment.tzinfo is None:
            moment = (moment - timedelta(seconds=offset)).replace(tzinfo=UTC)
    except (ValueError, OverflowError):
        return text
    return moment.isoformat()


def _rows(times: list[str], arrays: dict[str, list[str]]) -> Iterator[dict[str, str]]:
    for number, time in enumerate(times):
        yield {"time": time, **{name: cells[number] for name, cells in arrays.items()}}


def _point(body: Json) -> tuple[float, float] | None:
    """Return latitude and longitude of the answer; None where it names no place."""
    point = body.get("latitude"), body.get("longitude")
    if any(isinstance(one, bool) or not isinstance(one, int | float) for one in point):
        return None
    latitude, longitude = float(point[0] or 0), float(point[1] or 0)
    return (latitude, longitude) if abs(latitude) <= 90 and abs(longitude) <= 180 else None
