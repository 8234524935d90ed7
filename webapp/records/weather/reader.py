"""Read a CSV file of hourly observations; every fault is named, none is mended."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Any

from marshmallow import ValidationError

from calc.weather.observation import Hour
from webapp.records.weather.faults import WeatherFault, WeatherFaults, faults_of
from webapp.records.weather.rows import COLUMNS, RowSchema

#: Largest file that is read: two years of hours with room to spare. [bytes]
LARGEST = 2_000_000
HOUR = timedelta(hours=1)


@dataclass(frozen=True)
class Observed:
    """One row of the file: observed at ``time``, UTC, its rain fallen in the hour before."""

    time: datetime
    hour: Hour


def read_observations(content: bytes, file: str) -> tuple[Observed, ...]:
    """Return the hours of a file, the oldest first.

    Parameters
    ----------
    content : bytes
        UTF-8, comma separated, a heading with any order of `COLUMNS`.
    file : str
        Its name, for the messages.

    Raises
    ------
    WeatherFaults
        With every fault by row and column.
    """
    faults: list[WeatherFault] = []
    rows = _rows(content, faults)
    seen: list[tuple[int, Observed]] = []
    for number, cells in rows:
        row = _observed(number, cells, faults)
        if row is not None:
            seen.append((number, row))
    _check_order(seen, faults)
    if not rows and not faults:
        faults.append(WeatherFault(2, "", "there is no row under the heading", "add one"))
    if faults:
        raise WeatherFaults(file, faults)
    return tuple(row for _, row in seen)


def _rows(content: bytes, faults: list[WeatherFault]) -> list[tuple[int, dict[str, str]]]:
    if len(content) > LARGEST:
        faults.append(WeatherFault(0, "", "it is too large", f"give up to {LARGEST} bytes"))
        return []
    try:
        text = content.decode("utf-8-sig")
        lines = list(_numbered(text))
    except UnicodeDecodeError:
        faults.append(WeatherFault(0, "", "it is not UTF-8", "save it as UTF-8"))
        return []
    except csv.Error as problem:
        faults.append(WeatherFault(0, "", f"it is not CSV ({problem})", "save it as CSV"))
        return []
    if not lines:
        cure = f"give it the heading {','.join(COLUMNS)}"
        faults.append(WeatherFault(1, "", "it is empty", cure))
        return []
    _, heading = lines[0]
    if not _heading_is_right(heading, faults):
        return []
    return list(_cells(heading, lines[1:], faults))


def _numbered(text: str) -> Iterator[tuple[int, list[str]]]:
    """Walk the rows that hold anything, with the line each ends on."""
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    for cells in reader:
        if any(cell.strip() for cell in cells):
            yield reader.line_num, [cell.strip() for cell in cells]


def _heading_is_right(heading: list[str], faults: list[WeatherFault]) -> bool:
    before = len(faults)
    if "time" not in heading:
        cure = f"give it the heading {','.join(COLUMNS)}; all but time may be left out"
        faults.append(WeatherFault(1, "time", "the column 'time' is missing", cure))
    for name in heading:
        if name not in COLUMNS:
            cure = f"take it out; known are {', '.join(COLUMNS)}"
            faults.append(WeatherFault(1, name, f"the column '{name}' is not known", cure))
        elif heading.count(name) > 1:
            faults.append(WeatherFault(1, name, "the column stands twice", "take one out"))
    return len(faults) == before


def _cells(
    heading: list[str], lines: list[tuple[int, list[str]]], faults: list[WeatherFault]
) -> Iterator[tuple[int, dict[str, str]]]:
    for number, cells in lines:
        if len(cells) != len(heading):
            problem = f"the row has {len(cells)} cells, the heading has {len(heading)}"
            faults.append(WeatherFault(number, "", problem, "add or take out a comma"))
            continue
        yield number, dict(zip(heading, cells, strict=True))


def _observed(
    number: int, cells: dict[str, str], faults: list[WeatherFault]
) -> Observed | None:
    try:
        values = RowSchema().load(cells)
    except ValidationError as error:
        faults.extend(faults_of(number, error))
        return None
    try:
        return Observed(values.pop("time"), hour_from(values))
    except ValueError as problem:
        cure = "mend or empty one of air_c and dew_point_c"
        faults.append(WeatherFault(number, "dew_point_c", str(problem), cure))
        return None


def hour_from(values: dict[str, Any]) -> Hour:
    """Return the hour of loaded values.

    Raises
    ------
    ValueError
        If the dew point lies above the air temperature.
    """
    return Hour(
        air=values["air_c"],
        humidity=values["humidity_percent"],
        dew_point=values["dew_point_c"],
        rain=values["rain_mm"],
        wind=values["wind_mps"],
        cloud=values["cloud_oktas"],
        word=values["weather"],
    )


def _check_order(seen: list[tuple[int, Observed]], faults: list[WeatherFault]) -> None:
    for (_, before), (number, row) in pairwise(seen):
        if row.time <= before.time:
            stands = "stands twice" if row.time == before.time else "is before the row above"
            cure = "sort the rows by time, one an hour"
            faults.append(
                WeatherFault(number, "time", f"{row.time:%Y-%m-%dT%H:%MZ} {stands}", cure)
            )
