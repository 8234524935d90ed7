"""The outside checks as data: what others publish, what we compute, and how far apart."""

from __future__ import annotations

import json
import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from functools import cache
from pathlib import Path
from typing import Any

STORED = Path(__file__).parent / "checks.json"
DIGITS = 6


@dataclass(frozen=True)
class Check:
    """One figure of ours beside theirs; ``theirs`` is a figure or a band (low, high)."""

    what: str
    source: str
    address: str
    status: str
    theirs: float | tuple[float, float]
    ours: float
    within: float
    unit: str
    why: str

    @property
    def error(self) -> float:
        """How far ours lies from theirs; 0 inside a band."""
        low, high = self.band
        return self.ours - low if self.ours < low else max(self.ours - high, 0.0)

    @property
    def band(self) -> tuple[float, float]:
        return self.theirs if isinstance(self.theirs, tuple) else (self.theirs, self.theirs)

    @property
    def holds(self) -> bool:
        # A figure that is kept rounded may lie beyond the edge by its last digit.
        last_digit = 0.02 * self.within or 10.0**-DIGITS * max(map(abs, self.band))
        return abs(self.error) <= self.within + last_digit


@dataclass(frozen=True)
class Family:
    """The checks of one family of sources."""

    name: str
    checks: tuple[Check, ...]

    @property
    def failing(self) -> int:
        return sum(not check.holds for check in self.checks)


@dataclass(frozen=True)
class Checks:
    """Every check, and what its status words mean."""

    statuses: dict[str, str]
    families: tuple[Family, ...]

    def __iter__(self) -> Iterator[Check]:
        return (check for family in self.families for check in family.checks)

    @property
    def count(self) -> int:
        return sum(len(family.checks) for family in self.families)

    @property
    def failing(self) -> int:
        return sum(family.failing for family in self.families)

    @property
    def sources(self) -> int:
        return len({(check.source, check.address) for check in self})

    @property
    def by_status(self) -> list[tuple[str, str, int]]:
        """Each status with its meaning and how many checks carry it."""
        counts = Counter(check.status for check in self)
        return [(name, words, counts[name]) for name, words in self.statuses.items()]


def write(checks: Checks, path: Path = STORED) -> None:
    """Keep the checks where an installed server finds them."""
    families = [
        {"name": f.name, "checks": [asdict(c) for c in f.checks]} for f in checks.families
    ]
    text = json.dumps(
        {"statuses": checks.statuses, "families": families},
        indent=1,
        ensure_ascii=False,
        allow_nan=False,
    )
    path.write_text(text + "\n", encoding="utf-8")


@cache
def stored() -> Checks:
    """Return the checks that came with this version."""
    data = json.loads(STORED.read_text(encoding="utf-8"))
    families = tuple(
        Family(family["name"], tuple(_check(row) for row in family["checks"]))
        for family in data["families"]
    )
    return Checks(data["statuses"], families)


def _check(row: dict[str, Any]) -> Check:
    theirs = row["theirs"]
    return Check(**row | {"theirs": tuple(theirs) if isinstance(theirs, list) else theirs})


def rounded(value: float, within: float) -> float:
    """Return a figure in the digits that matter beside its tolerance, at least six.

    More digits would differ by machine and change the kept file for nothing.
    """
    value = float(value)
    digits = DIGITS
    if within > 0 and value != 0:
        digits = max(DIGITS, math.ceil(math.log10(1000 * abs(value) / within)))
    return float(f"{value:.{digits}g}")
