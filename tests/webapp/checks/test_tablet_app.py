"""Every number of the app that has no source stands on the page of checks, as it is used."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from webapp.pages.checks.assumptions import of_the_program
from webapp.pages.checks.tablet_app import FOLLOW, NUMBERS, Number

STATIC = Path(__file__).parents[3] / "static"


def constants(file: str) -> dict[str, float]:
    """The constants of a module that are numbers, or numbers multiplied."""
    found = re.findall(
        r"const (\w+) = ([\d_.]+(?: \* [\d_.]+)*);", (STATIC / file).read_text()
    )
    values = {}
    for name, text in found:
        value = 1.0
        for factor in text.split(" * "):
            value *= float(factor)
        values[name] = value
    return values


@pytest.mark.parametrize("one", NUMBERS, ids=lambda one: one.constant)
def test_the_number_is_the_one_that_is_used(one: Number) -> None:
    assert constants(one.file)[one.constant] == one.number


def test_no_threshold_of_following_is_left_out() -> None:
    told = {one.constant for one in NUMBERS if one.file == FOLLOW}
    assert told == set(constants(FOLLOW))
    assert len(told) > 20


def test_they_stand_on_the_page() -> None:
    group = next(one for one in of_the_program() if one.name == "The tablet app")
    assert len(group.entries) == len(NUMBERS)
