"""Every number of the desk that has no source stands on the page of trust, as it is used."""

from __future__ import annotations

import importlib
from datetime import timedelta
from functools import reduce
from typing import Any

import pytest

from webapp.trust.assumptions import of_the_program
from webapp.trust.desk_app import NUMBERS

UNITS: dict[str, Any] = {
    "m": 1.0,
    "km": 1000.0,
    "min": timedelta(minutes=1),
    "h": timedelta(hours=1),
    "days": timedelta(days=1),
}


@pytest.mark.parametrize("name", NUMBERS)
def test_the_number_is_the_one_that_is_used(name: str) -> None:
    module, _, path = name.partition(":")
    used: Any = reduce(getattr, path.split("."), importlib.import_module(module))
    number, unit = NUMBERS[name][1].split()
    assert used == int(number) * UNITS[unit]


def test_they_stand_on_the_page() -> None:
    group = next(one for one in of_the_program() if one.name == "The desk")
    assert len(group.entries) == len(NUMBERS)
