"""CSV after RFC 4180 that no spreadsheet takes for a formula, and that reads back unchanged.

A text cell that a spreadsheet may run (OWASP, CSV injection: a cell, or a later line of it,
that begins with = + - @ tab or a line break, blanks before it or not) gets an apostrophe in
front of each of its lines; so does one that begins with an apostrophe. Reading takes exactly
these away again.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

BREAK = re.compile(r"(\r\n|\r|\n)")
GUARDED = re.compile(r"(\r\n|\r|\n)'")
# \s in Python is blanks, tabs, line breaks and NBSP.
RISKY = re.compile(r"\s*[=+\-@\t\r\n']|\s*[\t\r\n]")


def guarded(text: str) -> str:
    """Return a text cell as it is written."""
    risky = any(RISKY.match(line) for line in [text, *BREAK.split(text)[2::2]])
    return "'" + BREAK.sub(r"\1'", text) if risky else text


def plain(cell: str) -> str:
    """Return the text of a cell that `guarded` wrote."""
    return GUARDED.sub(r"\1", cell[1:]) if cell.startswith("'") else cell


def lines(names: Sequence[str], rows: Iterable[Sequence[Any]]) -> Iterator[str]:
    """Write a header and rows one by one; None is an empty cell, a number stands as it is."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(names)
    yield out.getvalue()
    for row in rows:
        out.seek(0)
        out.truncate()
        writer.writerow([_cell(value) for value in row])
        yield out.getvalue()


def write(names: Sequence[str], rows: Iterable[Sequence[Any]]) -> str:
    """Return all that `lines` writes."""
    return "".join(lines(names, rows))


def read(text: str) -> Iterator[dict[str, str]]:
    """Read what `write` wrote, row by row, by name."""
    for row in csv.DictReader(io.StringIO(text, newline="")):
        yield {name: plain(cell) for name, cell in row.items()}


def _cell(value: Any) -> Any:
    if value is None:
        return ""
    return value if isinstance(value, int | float) else guarded(str(value))
