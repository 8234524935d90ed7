"""Run the outside checks again: they live in the project's tests, so only in a checkout."""

from __future__ import annotations

import importlib
import sys
from collections.abc import Iterator
from itertools import groupby
from pathlib import Path
from typing import Any

from webapp.pages.checks.checks import Check, Checks, Family, rounded

ROOT = Path(__file__).resolve().parents[3]


class NoCheckout(LookupError):
    """The project's tests are not here: an installed server has only what was kept."""


def run() -> Checks:
    """Work out every check.

    Raises
    ------
    NoCheckout
        Where the project's tests are not beside it, or what they need is not installed.
    """
    if not (ROOT / "tests" / "outside" / "row.py").is_file():
        raise NoCheckout("there is no tests/outside beside this program: it is installed")
    if str(ROOT) not in sys.path:
        sys.path.insert(0, str(ROOT))
    try:
        rows = importlib.import_module("tests.outside.row")
        return Checks(dict(rows.STATUSES), tuple(_families(rows.all_rows())))
    except ModuleNotFoundError as missing:
        raise NoCheckout(
            f"the checks need {missing.name}: install the project with [test]"
        ) from missing


def _families(rows: list[Any]) -> Iterator[Family]:
    for module, group in groupby(rows, lambda row: str(row.ours.__module__)):
        yield Family(_family_name(module), tuple(map(_check, group)))


def _family_name(module: str) -> str:
    """Return the first line of the module that holds a family of checks."""
    words = (sys.modules[module].__doc__ or module).strip().splitlines()[0]
    return words.rstrip(".")


def _check(row: Any) -> Check:
    theirs = row.theirs if isinstance(row.theirs, tuple) else (row.theirs, row.theirs)
    low, high = (rounded(value, row.within) for value in theirs)
    return Check(
        what=row.what,
        source=row.source.title,
        address=row.source.address,
        status=row.status,
        theirs=(low, high) if isinstance(row.theirs, tuple) else low,
        ours=rounded(row.ours(), row.within),
        within=rounded(row.within, 0.0),
        unit=row.unit,
        why=row.why,
    )
