"""The desk's list stands in the order of what a person must do about a report now."""

from __future__ import annotations

import importlib
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.support.reports import body
from webapp.records.reports.rank import gravity, urgency

TOLD = "2026-11-25T06:41:00+00:00"
#: From the gravest to the least, each with what it alone says.
ORDER: list[dict[str, Any]] = [
    {"found": "good", "happened": ["overrun"], "told_signaller_at": TOLD},
    {"found": "good", "happened": [], "train_not_seen": True},
    {"found": "reportable", "told_signaller_at": None},
    {"found": "expected", "flats_suspected": True},
    {"found": "reportable", "told_signaller_at": TOLD},
    {"found": "expected", "told_signaller_at": None},
    {"found": "good", "told_signaller_at": None},
]
bodies = st.builds(
    body,
    found=st.sampled_from(["good", "expected", "reportable"]),
    happened=st.lists(st.sampled_from(["slide", "overrun", "leaves"]), unique=True),
    train_not_seen=st.booleans(),
    flats_suspected=st.booleans(),
    told_signaller_at=st.sampled_from([None, TOLD]),
)


def test_what_must_be_done_first_stands_first() -> None:
    ranks = [gravity(body(**{"happened": ["slide"], **one})) for one in ORDER]
    assert ranks == [7, 6, 5, 4, 3, 2, 1]


def test_an_overrun_with_all_else_stands_above_plain_slides() -> None:
    worst = body(
        found="reportable", happened=["overrun"], step="emergency", flats_suspected=True
    )
    plain = body(found="reportable", happened=["slide"], told_signaller_at=None)
    assert urgency(worst, apart=False) > urgency(plain, apart=False)


@given(bodies, st.sampled_from(["overrun", "not seen", "no call", "flats"]))
def test_more_said_never_stands_lower(one: dict[str, Any], what: str) -> None:
    more = {
        "overrun": {"happened": [*one["happened"], "overrun"]},
        "not seen": {"train_not_seen": True},
        "no call": {"told_signaller_at": None},
        "flats": {"flats_suspected": True},
    }[what]
    assert gravity({**one, **more}) >= gravity(one)


@given(bodies, bodies)
def test_apart_stands_just_below_its_kind(one: dict[str, Any], other: dict[str, Any]) -> None:
    assert urgency(one, apart=True) == urgency(one, apart=False) - 1 > 0
    if gravity(one) > gravity(other):
        assert urgency(one, apart=True) > urgency(other, apart=False)


@given(bodies)
def test_rows_of_before_are_ranked_alike(one: dict[str, Any]) -> None:
    """The migration has its own copy of the rule, as it stood then."""
    step = importlib.import_module("webapp.store.migrations.versions.0020_gravest_first")
    assert step._gravity(one) == gravity(one)


@pytest.mark.parametrize("odd", ["", "new word"])
def test_a_word_of_a_later_app_counts_as_reportable(odd: str) -> None:
    assert gravity(body(found=odd, told_signaller_at=TOLD, flats_suspected=False)) == 3
