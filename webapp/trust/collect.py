"""Run the outside checks anew: they live in the project's tests, so only in a checkout."""

from __future__ import annotations

import importlib
import sys
from itertools import groupby
from pathlib import Path
from typing import Any

from webapp.trust.checks import Check, Checks, Family, rounded

ROOT = Path(__file__).resolve().parents[2]


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
        found: list[Any] = rows.all_rows()
    except ModuleNotFoundError as missing:
        raise NoCheckout(
            f"the checks need {missing.name}: install the project with [test]"
        ) from missing
    families = tuple(
        Family(_family_name(module), tuple(map(_check, group)))
        for module, group in groupby(found, lambda row: str(row.ours.__module__))
    )
    return Checks(dict(rows.STATUSES), families)


def _family_name(module: str) -> str:
    """Return the first line of the module that holds a family of checks."""
    words = (sys.modules[module].__doc__ or module).strip().splitlines()[0]
    return words.rstrip(".")


def _check(row: Any) -> Check:
    theirs = row.theirs
    return Check(
        what=row.what,
        source=row.source.title,
        address=row.source.address,
        status=row.status,
        theirs=_band(*theirs) if isinstance(theirs, tuple) else rounded(theirs),
        ours=rounded(row.ours()),
        within=rounded(row.within),
        unit=row.unit,
        why=row.why,
    )


def _band(low: float, high: float) -> tuple[float, float]:
    return rounded(low), rounded(high)
