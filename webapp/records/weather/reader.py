"""Read a CSV file of hourly observations; every fault is named, none is mended."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Any
from zoneinfo import ZoneInfo

from marshmallow import ValidationError

from calc.weather.observation import Hour
from webapp.records.weather.columns import Columns, in_our_unit, with_offset
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


UTC_ZONE = ZoneInfo("UTC")


def read_observations(
    content: bytes, file: str, columns: Columns | None = None, zone: ZoneInfo = UTC_ZONE
) -> tuple[Observed, ...]:
    """Return the hours of a file, the oldest first.

    Parameters
    ----------
    content : bytes
        UTF-8, separated by commas or semicolons, a heading with any order of `COLUMNS`, or
        with those that ``columns`` names.
    file : str
        Its name, for the messages.
    columns : Columns, optional
        Which column of the file is which, and in what unit; without it they bear our names.
    zone : ZoneInfo
        Of the desk, for a file in its clock.

    Raises
    ------
    WeatherFaults
        With every fault by row and column.
    """
    faults: list[WeatherFault] = []
    rows = _rows(content, faults, columns)
    seen: list[tuple[int, Observed]] = []
    named = columns.columns if columns else {}
    theirs = {name: one.heading for name, one in named.items()}
    for number, cells in rows:
        ours = cells if columns is None else _ours(number, cells, columns, zone, seen, faults)
        row = None if ours is None else observed(number, ours, faults, theirs)
        if row is not None:
            seen.append((number, row))
    check_order(seen, faults)
    if not rows and not faults:
        faults.append(WeatherFault(2, "", "there is no row under the heading", "add one"))
    if faults:
        raise WeatherFaults(file, faults)
    return tuple(row for _, row in seen)


def headings_of(content: bytes) -> list[str]:
    """Return the headings of a file; none where it cannot be read that far."""
    try:
        _, heading = next(_numbered(content[:LARGEST].decode("utf-8-sig")), (0, []))
    except (UnicodeDecodeError, csv.Error):
        return []
    return heading


def _rows(
    content: bytes, faults: list[WeatherFault], columns: Columns | None
) -> list[tuple[int, dict[str, str]]]:
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
    right = _heading_is_right if columns is None else _mapped_is_there
    if not right(heading, faults, columns):
        return []
    return list(_cells(heading, lines[1:], faults))


def _numbered(text: str) -> Iterator[tuple[int, list[str]]]:
    """Walk the rows that hold anything, with the line each ends on."""
    first = text.partition("\n")[0]
    mark = ";" if ";" in first and "," not in first else ","
    reader = csv.reader(io.StringIO(text, newline=""), strict=True, delimiter=mark)
    for cells in reader:
        if any(cell.strip() for cell in cells):
            yield reader.line_num, [cell.strip() for cell in cells]


def _mapped_is_there(
    heading: list[str], faults: list[WeatherFault], columns: Columns | None
) -> bool:
    before = len(faults)
    for one in columns.columns.values() if columns else ():
        if heading.count(one.heading) != 1:
            said = "is missing" if one.heading not in heading else "stands twice"
            cure = "mend the heading, or say again which column is which"
            fault = WeatherFault(1, one.heading, f"the column '{one.heading}' {said}", cure)
            faults.append(fault)
    return len(faults) == before


def _ours(
    number: int,
    cells: dict[str, str],
    columns: Columns,
    zone: ZoneInfo,
    seen: list[tuple[int, Observed]],
    faults: list[WeatherFault],
) -> dict[str, str] | None:
    """Return the cells of a row under our names and in our units."""
    found = {}
    for name, one in columns.columns.items():
        cell = cells[one.heading]
        if name != "time":
            found[name] = in_our_unit(name, cell, one.unit)
            continue
        try:
            before = seen[-1][1].time if seen else None
            found[name] = with_offset(cell, one.unit, zone, before)
        except ValueError as said:
            problem, _, cure = str(said).partition(" | ")
            faults.append(WeatherFault(number, one.heading, problem, cure))
            return None
    return found


def _heading_is_right(
    heading: list[str], faults: list[WeatherFault], _: Columns | None
) -> bool:
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


def observed(
    number: int,
    cells: dict[str, str],
    faults: list[WeatherFault],
    theirs: Mapping[str, str],
) -> Observed | None:
    """Return a row, or None with its faults; ``theirs`` are the file's names of columns."""
    try:
        values = RowSchema().load(cells)
    except ValidationError as error:
        faults.extend(_in_the_file(faults_of(number, error), theirs))
        return None
    try:
        return Observed(values.pop("time"), hour_from(values))
    except ValueError as problem:
        cure = "mend or empty one of air_c and dew_point_c"
        fault = WeatherFault(number, "dew_point_c", str(problem), cure)
        faults.extend(_in_the_file([fault], theirs))
        return None


def _in_the_file(
    found: list[WeatherFault], theirs: Mapping[str, str]
) -> Iterator[WeatherFault]:
    """Name the columns as the file has them."""
    for one in found:
        yield replace(one, column=theirs.get(one.column, one.column))


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


def check_order(seen: list[tuple[int, Observed]], faults: list[WeatherFault]) -> None:
    """Say of each row that does not come after the one above it."""
    for (_, before), (number, row) in pairwise(seen):
        if row.time <= before.time:
            stands = "stands twice" if row.time == before.time else "is before the row above"
            cure = "sort the rows by time, one an hour"
            faults.append(
                WeatherFault(number, "time", f"{row.time:%Y-%m-%dT%H:%MZ} {stands}", cure)
            )
