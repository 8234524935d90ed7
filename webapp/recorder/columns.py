"""The columns of a recorder's file by our names: what is not named is not read.

A recorder writes who drove, which unit and on what day beside what is asked for here.
Those columns are dropped before anything is read, and no one keeps them.
"""

from __future__ import annotations

import csv
import io
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from webapp.recorder.cells import CellFault, moment, number
from webapp.recorder.service import PLACE, SPEEDS, Fault, TraceFaults

PRESSURE, WHEELS = "pressure", "wheels"
KNOWN = ("time", *SPEEDS, "step", "wsp", PLACE, PRESSURE, WHEELS)
#: Wheelsets that differ by so much slide; a dry test has none. Assumptions. [m/s, -]
APART, APART_SHARE = 1.0, 0.05
_DAY = 86_400.0


@dataclass(frozen=True)
class Picked:
    """A file with our columns alone, the pressure by time of day, and what to say of it."""

    data: bytes
    pressure: Mapping[float, float]
    notes: tuple[str, ...]


def read_mapping(path: Path) -> dict[str, list[str]]:
    """Read which column of the file is which: ``[columns]`` of a TOML file.

    Raises
    ------
    TraceFaults
        If it is no such file, or names a column that is not known here.
    """
    cure = 'write [columns] and below it lines like time = "Clock"'
    try:
        found = tomllib.loads(path.read_text(encoding="utf-8")).get("columns")
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as bad:
        raise TraceFaults(path.name, [Fault(1, "", f"no TOML: {bad}", cure)]) from None
    if not isinstance(found, dict) or not found:
        raise TraceFaults(path.name, [Fault(1, "columns", "the table is missing", cure)])
    faults = [
        Fault(1, str(name), "the column is not known", f"known are {', '.join(KNOWN)}")
        for name in found
        if name not in KNOWN
    ]
    named = {name: one if isinstance(one, list) else [one] for name, one in found.items()}
    for name, columns in named.items():
        texts = all(isinstance(one, str) and one.strip() for one in columns)
        if not columns or not texts or (name != WHEELS and len(columns) > 1):
            cure = "give the name of one column; for wheels a list of names"
            faults.append(Fault(1, str(name), "the name of a column is missing", cure))
    if faults:
        raise TraceFaults(path.name, faults)
    return {name: [one.strip() for one in columns] for name, columns in named.items()}


def picked(
    data: bytes,
    name: str,
    mapping: Mapping[str, list[str]] | None = None,
    along: Callable[[float], float] = float,
) -> Picked:
    """Return the file with our columns alone.

    Parameters
    ----------
    data : bytes
        CSV, UTF-8; the first row names the columns.
    name : str
        Of the file, for its faults.
    mapping : mapping of str to list of str, optional
        Our name of a column to the file's; without it they are called as here.
    along : callable, optional
        From metres of the line to metres in the direction of travel.

    Raises
    ------
    TraceFaults
        If the file is no text, or a column that is mapped is not in it.
    """
    try:
        rows = list(csv.reader(io.StringIO(data.decode("utf-8-sig"), newline="")))
    except (UnicodeDecodeError, csv.Error) as bad:
        cure = "save it as CSV, UTF-8"
        raise TraceFaults(name, [Fault(1, "", f"the file is no text: {bad}", cure)]) from None
    head = [cell.strip() for cell in rows[0]] if rows else []
    at = _columns(head, name, mapping)
    notes = _notes(head, at)
    out, pressure = io.StringIO(newline=""), _Pressure()
    write = csv.writer(out, lineterminator="\n")
    ours = [one for one in at if one not in (PRESSURE, WHEELS)]
    write.writerow([*ours, *([] if "wsp" in at else ["wsp"])])
    speed = next((one for one in ours if one in SPEEDS), "")
    for cells in rows[1:]:
        if len(cells) != len(head):
            # The reader names the row; a blank one it passes over.
            write.writerow(cells)
            continue
        raw = {one: cells[places[0]].strip() for one, places in at.items()}
        raw.setdefault("wsp", "0")
        _read_wheels(raw, [cells[i].strip() for i in at.get(WHEELS, [])], speed)
        raw |= _turned(raw, along)
        pressure.keep(raw)
        write.writerow([raw[one] for one in [*ours, *([] if "wsp" in at else ["wsp"])]])
    return Picked(out.getvalue().encode(), pressure.by_time, notes)


def _columns(
    head: list[str], name: str, mapping: Mapping[str, list[str]] | None
) -> dict[str, list[int]]:
    """Return where each of our columns stands in the file."""
    lower = [cell.lower() for cell in head]
    if mapping is None:
        return {one: [lower.index(one)] for one in KNOWN if one in lower}
    missing = [
        Fault(1, column, f"the column of '{one}' is not in the file", "mend the name")
        for one, columns in mapping.items()
        for column in columns
        if column.lower() not in lower
    ]
    if missing:
        raise TraceFaults(name, missing)
    return {one: [lower.index(c.lower()) for c in columns] for one, columns in mapping.items()}


def _notes(head: list[str], at: Mapping[str, list[int]]) -> tuple[str, ...]:
    read = {place for places in at.values() for place in places}
    unread = len(head) - len(read)
    notes = [f"{unread} other columns were not read."] if unread else []
    if "wsp" not in at:
        notes.append("No column of wheel-slide protection: taken as never at work.")
    return tuple(notes)


def _read_wheels(raw: dict[str, str], wheels: list[str], speed: str) -> None:
    """Take the fastest wheelset as the train's speed; wheelsets apart are a slide."""
    try:
        values = [number(text, 0.0, 1e4) for text in wheels if text]
    except CellFault:
        return
    if not values or not speed:
        return
    fastest, slowest = max(values), min(values)
    raw[speed] = f"{fastest:.6g}"
    if (fastest - slowest) * SPEEDS[speed] > max(APART, APART_SHARE * fastest * SPEEDS[speed]):
        raw["wsp"] = "1"


def _turned(raw: Mapping[str, str], along: Callable[[float], float]) -> dict[str, str]:
    """Count the place in the direction of travel; what is no number is refused later."""
    try:
        return {PLACE: repr(along(number(raw[PLACE], -1e7, 1e7)))} if raw.get(PLACE) else {}
    except CellFault:
        return {}


class _Pressure:
    """The pressure by time of day; where a clock was put back, neither figure."""

    def __init__(self) -> None:
        self.by_time: dict[float, float] = {}

    def keep(self, raw: Mapping[str, str]) -> None:
        try:
            time = key_of(moment(raw.get("time", "")))
            value = number(raw.get(PRESSURE, ""), -1e6, 1e6)
        except CellFault:
            return
        self.by_time[time] = float("nan") if time in self.by_time else value


def key_of(time: float) -> float:
    """Return a time of day as pressures are kept by it. [s]"""
    return round(time % _DAY, 3)


def pressures(picked: Picked, times: np.ndarray) -> np.ndarray:
    """Return the pressure at each row of a trace, NaN where none is known."""
    known = [picked.pressure.get(key_of(float(time)), float("nan")) for time in times]
    return np.array(known, dtype=np.float64)
