"""Every number of the desk that has no source stands on the page of checks, as it is used."""

from __future__ import annotations

import importlib
from datetime import timedelta
from functools import reduce
from typing import Any

import pytest

from webapp.pages.checks.assumptions import of_the_program
from webapp.pages.checks.desk_app import NUMBERS

UNITS: dict[str, Any] = {
    "m": 1.0,
    "km": 1000.0,
    "min": timedelta(minutes=1),
    "h": timedelta(hours=1),
    "days": timedelta(days=1),
    "weeks": 1,
    "reports": 1,
}


def part(whole: Any, name: str) -> Any:
    """An attribute, a key or a place in a row."""
    if isinstance(whole, dict):
        return whole[name]
    return whole[int(name)] if isinstance(whole, tuple) else getattr(whole, name)


@pytest.mark.parametrize("name", NUMBERS)
def test_the_number_is_the_one_that_is_used(name: str) -> None:
    module, _, path = name.partition(":")
    used: Any = reduce(part, path.split("."), importlib.import_module(module))
    number, unit = NUMBERS[name][1].split()
    # A setting is read as a number of its unit, and so is what has the unit in its name.
    if module == "webapp.plain.config" or path.endswith("_KM"):
        assert used == int(number)
    else:
        assert used == int(number) * UNITS[unit]


def test_they_stand_on_the_page() -> None:
    group = next(one for one in of_the_program() if one.name == "The desk")
    assert len(group.entries) == len(NUMBERS)
