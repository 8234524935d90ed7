"""Read a recorder's CSV file into traces, or raise every fault by row and column."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from calc.constants import KMH, MPH
from calc.model import Line, Train
from calc.recorder import Doubt, Grip, Trace, grip_from_trace
from calc.recorder.trace import FASTEST, check_trace, falls_back
from webapp.recorder.cells import CellFault, flag, moment, number, step

#: Columns a file must have, and those it may have; one of SPEEDS is a must.
COLUMNS, SPEEDS = ("time", "step", "wsp"), {"speed_kmh": KMH, "speed_mph": MPH, "speed_mps": 1}
PLACE = "at_m"
MOST_ROWS = 200_000
MOST_FAULTS = 50
#: Fewer rows than this before the clock goes back are rows out of order. Assumption.
LEAST_PART = 5
HALF_A_DAY = 43_200.0


@dataclass(frozen=True)
class Fault:
    """One fault of the file: row as an editor counts it, column, what is wrong, the cure."""

    row: int
    column: str
    problem: str
    cure: str

    def __str__(self) -> str:
        column = f", column {self.column}" if self.column else ""
        return f"row {self.row}{column}: {self.problem}. Cure: {self.cure}."


class TraceFaults(ValueError):
    """Every fault of a file; nothing was read from it."""

    def __init__(self, name: str, faults: list[Fault]) -> None:
        self.faults = faults
        super().__init__("\n".join(f"{name}, {fault}" for fault in faults))


@dataclass(frozen=True)
class Reading:
    """A file as traces, one for each time the clock was put back, and what was left out."""

    parts: tuple[Trace, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class _Row:
    number: int
    time: float
    speed: float | None
    step: int
    wsp: bool
    place: float


def read_trace(data: bytes, name: str = "trace") -> Reading:
    """Read a CSV file.

    The first row names the columns: time (HH:MM:SS or seconds), speed_kmh, speed_mph or
    speed_mps, step (0, 1, 2 … or emergency), wsp (1 or 0) and, if known, at_m, growing in
    the direction of travel. A row without a speed is a dropout and is left out; a clock
    that is put back begins a new trace.

    Raises
    ------
    TraceFaults
        With every fault, each by row and column.
    """
    rows, faults = _rows(_text(data, name), name)
    if not faults and len(rows) < 3:
        faults = [Fault(1, "", "fewer than three rows", "export the whole stop")]
    if faults:
        raise TraceFaults(name, faults)
    known = [row for row in rows if row.speed is not None]
    notes: list[str] = []
    if len(known) < len(rows):
        notes.append(f"{len(rows) - len(known)} rows without a speed were left out.")
    parts: list[Trace] = []
    for part in _parts(_past_midnight(known), name):
        if parts:
            notes.append(f"The clock was put back at row {part[0].number}: read apart.")
        parts.append(_trace(part, name))
    return Reading(tuple(parts), tuple(notes))


def grip(
    reading: Reading,
    train: Train,
    line: Line,
    *,
    start: float = 0.0,
    doubt: Doubt | None = None,
) -> Grip:
    """Return the grip that all parts of a file show.

    Parameters
    ----------
    start : float
        Place of the first row, for a file without places; parts after a clock put back
        have no place then and are left out. [m]
    """
    found = [
        grip_from_trace(part, train, line, start=start, doubt=doubt)
        for index, part in enumerate(reading.parts)
        if index == 0 or np.isfinite(part.place).any()
    ]
    return Grip(
        tuple(piece for each in found for piece in each.pieces),
        tuple(slide for each in found for slide in each.slides),
    )


def _text(data: bytes, name: str) -> str:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        row = data[: error.start].count(b"\n") + 1
        fault = Fault(row, "", "the file is not UTF-8 text", "save it as CSV, UTF-8")
        raise TraceFaults(name, [fault]) from None
    if "\0" in text:
        fault = Fault(1, "", "the file holds no text", "save it as CSV, UTF-8")
        raise TraceFaults(name, [fault])
    return text


def _rows(text: str, name: str) -> tuple[list[_Row], list[Fault]]:
    reader = csv.reader(io.StringIO(text, newline=""))
    head = [cell.strip().lower() for cell in next(reader, [])]
    faults = list(_head_faults(head))
    rows: list[_Row] = []
    if faults:
        return rows, faults
    try:
        for cells in reader:
            if not any(cell.strip() for cell in cells):
                continue
            if len(rows) >= MOST_ROWS:
                cure = "cut out the stop that matters"
                faults.append(
                    Fault(reader.line_num, "", f"more than {MOST_ROWS:,} rows", cure)
                )
            else:
                _read_row(head, cells, reader.line_num, rows, faults)
            if len(faults) >= MOST_FAULTS or len(rows) > MOST_ROWS:
                break
    except csv.Error as error:
        faults.append(Fault(reader.line_num, "", str(error), "save it as CSV again"))
    return rows, faults


def _head_faults(head: list[str]) -> Iterator[Fault]:
    known = {*COLUMNS, *SPEEDS, PLACE}
    speeds = [name for name in head if name in SPEEDS]
    if len(speeds) != 1:
        yield Fault(
            1, "speed", f"{len(speeds)} columns of speed", f"one of {', '.join(SPEEDS)}"
        )
    for name in COLUMNS:
        if name not in head:
            yield Fault(1, name, "the column is missing", "name it in the first row")
    for name in sorted(set(head)):
        if head.count(name) > 1:
            yield Fault(1, name, "the column is there twice", "keep one")
        if name not in known:
            cure = f"leave it out; known are {', '.join(sorted(known))}"
            yield Fault(1, name or "(no name)", "the column is not known", cure)


def _read_row(
    head: list[str], cells: list[str], at: int, rows: list[_Row], faults: list[Fault]
) -> None:
    if len(cells) != len(head):
        cure = "as many cells as the first row has, a decimal point and no decimal comma"
        faults.append(Fault(at, "", f"{len(cells)} cells where {len(head)} belong", cure))
        return
    raw = {name: cell.strip() for name, cell in zip(head, cells, strict=True)}
    speed = next(name for name in head if name in SPEEDS)
    unit = SPEEDS[speed]
    before = len(faults)

    def read(column: str, take: Callable[[str], Any], empty: Any = None) -> Any:
        text = raw.get(column, "")
        if not text and column in (speed, PLACE):
            return empty
        try:
            if not text:
                raise CellFault("the cell is empty", "fill it in, or leave the row out")
            return take(text)
        except CellFault as bad:
            faults.append(Fault(at, column, bad.problem, bad.cure))

    row = {
        "time": read("time", moment),
        "speed": read(speed, lambda text: number(text, 0.0, FASTEST / unit) * unit),
        "step": read("step", step),
        "wsp": read("wsp", flag),
        "place": read(PLACE, lambda text: number(text, -1e7, 1e7), float("nan")),
    }
    if len(faults) == before:
        rows.append(_Row(at, **row))


def _past_midnight(rows: list[_Row]) -> list[_Row]:
    """Let a clock that begins again at midnight run on."""
    found: list[_Row] = []
    days = 0
    for row in rows:
        if found and row.time + 86_400.0 * days < found[-1].time - HALF_A_DAY:
            days += 1
        found.append(replace(row, time=row.time + 86_400.0 * days))
    return found


def _parts(rows: list[_Row], name: str) -> Iterator[list[_Row]]:
    """Yield the rows between one putting back of the clock and the next."""
    part: list[_Row] = []
    for row in rows:
        if part and row.time <= part[-1].time:
            same = row.time == part[-1].time
            if same or len(part) < LEAST_PART:
                problem = (
                    "the time is that of a row before" if same else "rows are out of order"
                )
                cure = "sort the rows by time, each time once"
                raise TraceFaults(name, [Fault(row.number, "time", problem, cure)])
            yield part
            part = []
        part.append(row)
    if len(part) >= 3:
        yield part
    elif part:
        cure = "sort the rows by time, or leave the last ones out"
        raise TraceFaults(name, [Fault(part[0].number, "time", "rows are out of order", cure)])


def _trace(rows: list[_Row], name: str) -> Trace:
    trace = Trace(
        time=np.array([row.time for row in rows]),
        speed=np.array([row.speed for row in rows], dtype=np.float64),
        step=np.array([row.step for row in rows], dtype=np.int64),
        wsp=np.array([row.wsp for row in rows], dtype=bool),
        place=np.array([row.place for row in rows], dtype=np.float64),
    )
    back = falls_back(trace.place)
    if back.any():
        at = rows[int(np.argmax(back))].number
        cure = "count it in the direction of travel, or leave the column out"
        raise TraceFaults(name, [Fault(at, PLACE, "the place goes back", cure)])
    check_trace(trace)
    return trace
