"""The raw files of a route folder: text, CSV rows, TOML tables, GeoJSON."""

from __future__ import annotations

import csv
import io
import json
import re
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from webapp.packs.faults import FaultList
from webapp.packs.fields import cut
from webapp.packs.rows import Table

_HEADER = re.compile(r"\[+\s*([\w.-]+)\s*\]+")
_PROBLEM_LINE = re.compile(r"line (\d+)")
#: Columns that one message about a heading names; a file of another kind has many wrong.
_MOST_NAMED = 8


@dataclass(frozen=True)
class RawRow:
    row: int
    cells: dict[str, str]


def read_text(folder: Path, file: str, faults: FaultList) -> str | None:
    """Return a file's text, or note why there is none."""
    try:
        raw = (folder / file).read_bytes()
    except FileNotFoundError:
        faults.add(file, 0, "", "the file is missing", f"add {file} to the route folder")
        return None
    except OSError as problem:
        faults.add(
            file, 0, "", f"the file can't be read ({problem.strerror})", "check its rights"
        )
        return None
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        row = raw[: problem.start].count(b"\n") + 1
        found = f"byte {raw[problem.start]:#04x} is not UTF-8 text"
        faults.add(file, row, "", found, "save the file again with the encoding UTF-8")
        return None


def read_rows(folder: Path, table: Table, faults: FaultList) -> list[RawRow] | None:
    """Return the rows of a CSV file by column name; row 1 is the heading."""
    if table.may_be_missing and not (folder / table.file).exists():
        return []
    text = read_text(folder, table.file, faults)
    lines = None if text is None else _csv_lines(text, table.file, faults)
    if lines is None:
        return None
    heading = [name.strip() for name in lines[0]] if lines else []
    if _separated_otherwise(table, heading, faults):
        return None
    if not _heading_is_right(table, heading, faults):
        return None
    rows = [
        RawRow(n, dict(zip(heading, (cell.strip() for cell in cells), strict=False)))
        for n, cells in enumerate(lines, 1)
        if any(cells)
    ]
    good = [row for row in rows[1:] if _width_is_right(table, heading, row, lines, faults)]
    if not rows[1:] and not table.may_be_empty:
        faults.add(
            table.file, 2, "", "there is no row under the heading", "add at least one row"
        )
    return good


def _csv_lines(text: str, file: str, faults: FaultList) -> list[list[str]] | None:
    reader = csv.reader(io.StringIO(text, newline=""))
    lines: list[list[str]] = []
    try:
        lines.extend(reader)
    except csv.Error as problem:
        cure = "look for a quotation mark that is opened here and never closed"
        faults.add(file, len(lines) + 1, "", f"this is not CSV ({problem})", cure)
        return None
    return lines


def _separated_otherwise(table: Table, heading: list[str], faults: FaultList) -> bool:
    """Name what a spreadsheet wrote instead of commas: the one cause of every other fault."""
    for mark, words in ((";", "semicolons"), ("\t", "tabs"), ("|", "upright strokes")):
        names = [name.strip().strip('"') for name in ",".join(heading).split(mark)]
        if len(names) > 1 and len(set(names) & set(table.names)) > 1:
            problem = f"the cells are separated by {words}"
            cure = "save the file again as CSV with commas between the cells"
            faults.add(table.file, 1, "", problem, cure)
            return True
    return False


def _heading_is_right(table: Table, heading: list[str], faults: FaultList) -> bool:
    """Say in one fault what is missing in a heading, not known or there twice."""
    missing = [name for name in table.columns if name not in heading]
    unknown = [name for name in dict.fromkeys(heading) if name not in table.names]
    twice = [name for name in table.names if heading.count(name) > 1]
    wrong = (
        *(f"the column '{name}' is missing" for name in missing),
        *(f"'{cut(name)}' is not known" for name in unknown),
        *(f"'{name}' is there twice" for name in twice),
    )
    if wrong:
        cure = f"give the file the heading {','.join(table.columns)}"
        problem = "; ".join(wrong[:_MOST_NAMED]) + ("; and more" * (len(wrong) > _MOST_NAMED))
        faults.add(table.file, 1, cut([*missing, *unknown, *twice][0]), problem, cure)
    return not wrong


def _width_is_right(
    table: Table, heading: list[str], row: RawRow, lines: list[list[str]], faults: FaultList
) -> bool:
    width = len(lines[row.row - 1])
    if width != len(heading):
        problem = f"the row has {width} cells, the heading has {len(heading)}"
        cure = "add or take out a comma; put text with commas in quotation marks"
        faults.add(table.file, row.row, "", problem, cure)
    return width == len(heading)


def read_toml(folder: Path, file: str, faults: FaultList) -> tuple[dict[str, Any], str] | None:
    text = read_text(folder, file, faults)
    if text is None:
        return None
    try:
        return tomllib.loads(text), text
    except (ValueError, RecursionError) as problem:
        # A number of thousands of digits, or brackets without end, is not a TOMLDecodeError.
        line = _PROBLEM_LINE.search(str(problem))
        row = int(line[1]) if line else 0
        faults.add(file, row, "", f"this is not TOML ({problem})", "mend the line as TOML")
        return None


def read_json(folder: Path, file: str, faults: FaultList) -> Any:
    text = read_text(folder, file, faults)
    if text is None:
        return None
    try:
        return json.loads(text)
    except json.JSONDecodeError as problem:
        faults.add(
            file, problem.lineno, "", f"this is not JSON ({problem.msg})", "mend the line"
        )
    except (ValueError, RecursionError) as problem:
        faults.add(file, 0, "", f"this is not JSON ({problem})", "mend the file as JSON")
    return None


def toml_row(text: str, table: str, number: int, key: str) -> int:
    """Return the line of ``key`` in the ``number``-th table of that name, from 0.

    Falls back to the line of the table's heading, then to line 1: an editor who looks
    there is near enough.
    """
    seen, inside, best = -1, False, 1
    for row, line in enumerate(text.splitlines(), 1):
        stripped = line.strip()
        heading = _HEADER.fullmatch(stripped.split("#")[0].strip())
        if heading:
            seen += heading[1] == table
            inside = seen == number and _within(heading[1], table)
            best = row if heading[1] == table and seen == number else best
        elif inside and re.match(rf"{re.escape(key)}\s*=", stripped):
            return row
    return best


def _within(heading: str, table: str) -> bool:
    return heading == table or heading.startswith(table + ".")
