"""One row of the comparison with the outside world, as a decorator for its test.

A test returns our figure; the decorator holds it against theirs and keeps the row, so
that the program can print all of them as a table (`all_rows`).
"""

from __future__ import annotations

import functools
import importlib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

#: How well a figure of theirs is known.
STATUSES = {
    "CONFIRMED": "seen in the text itself",
    "2nd-hand": "seen in a text that quotes the official one",
    "FROM MEMORY": "not seen in a text; the source believed",
    "DERIVED": "worked out here from confirmed inputs",
    "common practice, no source": "what the trade says, nowhere found in writing",
}


@dataclass(frozen=True)
class Source:
    """A text outside the project: its name, where it is, and how well it was seen."""

    title: str
    address: str
    status: str


@dataclass(frozen=True)
class Row:
    """What is compared, with whom, theirs against ours, and how close is close."""

    what: str
    source: Source
    status: str
    theirs: float | tuple[float, float]
    ours: Callable[[], float]
    within: float
    unit: str
    why: str

    @property
    def band(self) -> tuple[float, float]:
        """Lowest and highest figure of ours that agrees with theirs."""
        low, high = self.theirs if isinstance(self.theirs, tuple) else (self.theirs,) * 2
        return low - self.within, high + self.within

    def hold(self) -> None:
        """Fail, in words, unless ours lies in the band."""
        low, high = self.band
        ours = self.ours()
        assert low <= ours <= high, (
            f"{self.what}: ours {ours:.6g} {self.unit}, theirs {self.theirs} {self.unit} "
            f"within {self.within:g} ({self.why}); {self.source.title}, {self.source.address}"
        )


ROWS: dict[tuple[str, str], Row] = {}


def outside(
    source: Source,
    theirs: float | tuple[float, float],
    *,
    within: float = 0.0,
    unit: str = "",
    why: str,
    status: str | None = None,
) -> Callable[[Callable[[], float]], Callable[[], None]]:
    """Turn a function that returns our figure into a test against ``theirs``.

    ``theirs`` is a figure or a band (low, high); ``status`` is the source's own unless
    this figure was, for instance, derived from its inputs.
    """
    assert (status or source.status) in STATUSES

    def decorate(ours: Callable[[], float]) -> Callable[[], None]:
        what = ours.__name__.removeprefix("test_").replace("_", " ")
        # Worked out once a process: the test and the table ask for the same figure.
        once = functools.cache(ours)
        row = Row(what, source, status or source.status, theirs, once, within, unit, why)
        ROWS[ours.__module__, ours.__name__] = row

        @functools.wraps(ours)
        def test() -> None:
            row.hold()

        return test

    return decorate


def all_rows() -> list[Row]:
    """Return the rows of every module in this folder, module by module."""
    for path in sorted(Path(__file__).parent.glob("test_*.py")):
        importlib.import_module(f"tests.outside.{path.stem}")
    return [row for _, row in sorted(ROWS.items(), key=lambda item: item[0][0])]
