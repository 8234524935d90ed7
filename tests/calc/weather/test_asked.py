"""Four questions: what they propose, and that worse answers never do better."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc.weather.asked import QUESTIONS, Asked, all_answers, around, dew_may_lie, propose
from calc.weather.chain import CONDITIONS, Chain
from calc.weather.findings import REASONS

KEYS = ("dry", "wet", "damp", "frost", "leaf", "very-low")
CHAIN = Chain(KEYS, (True,) * 5 + (False,), tuple((c, c) for c in CONDITIONS))
FINE = Asked("none", "days", "no", "no")
#: Answers of a question from the milder to the worse, where the order is beyond dispute.
WORSE = (
    *(("dew", "no", "yes"), ("frost", "no", "yes"), ("rain", "steady", "light")),
    *(("rain", "none", "light"), ("dry", "days", "unknown")),
    *(("dry", "day", "hours"), ("dry", "days", "hours")),
)
PLACES = {
    "month": st.integers(1, 12),
    "hour": st.integers(0, 23),
    "leafy": st.booleans(),
    "latitude": st.floats(-66.0, 66.0),
}


def state(asked: Asked, month: int = 6, hour: int = 13, leafy: bool = False, north=53.0):
    return KEYS[propose(CHAIN, asked, around(month, hour, leafy, north)).index]


def test_by_day_a_rail_on_which_nothing_is_seen_is_dry():
    assert state(FINE) == "dry"


def test_in_the_hours_of_dew_nothing_seen_is_not_dry():
    assert state(FINE, 10, 6) == "damp" and state(FINE, 10, 22) == "damp"
    assert state(FINE, 6, 9) == "dry", "in June the sun is high by then"


def test_a_first_light_rain_is_worse_than_steady_rain():
    assert state(Asked("light", "days", "no", "no")) == "damp"
    assert state(Asked("steady", "days", "no", "no")) == "wet"
    assert state(Asked("steady", "days", "no", "no"), 11) == "damp", "leaf residue"


def test_moisture_on_a_line_with_leaf_fall_is_leaf_film_in_its_season_alone():
    drizzle = Asked("light", "day", "no", "no")
    assert state(drizzle, 11, leafy=True) == "leaf"
    assert state(drizzle, 6, leafy=True) == "damp"
    assert state(drizzle, 5, leafy=True, north=-41.2) == "leaf"


def test_a_latitude_of_which_no_season_is_known_counts_as_leaf_fall():
    assert state(Asked("light", "day", "no", "no"), 6, leafy=True, north=10.0) == "leaf"


@pytest.mark.parametrize(("month", "hour"), [(0, 5), (13, 5), (5, -1), (5, 24)])
def test_a_month_or_hour_that_cannot_be_is_refused(month: int, hour: int):
    with pytest.raises(ValueError, match="no month"):
        around(month, hour, True, 53.0)


def test_an_answer_that_nobody_could_give_is_refused():
    with pytest.raises(ValueError, match="rain 'hail'"):
        Asked("hail", "days", "no", "no")


def test_all_answers_are_there_once_and_each_says_why():
    every = all_answers()
    assert len(set(every)) == len(every) == 48
    for asked, month, hour in product(every, (1, 5, 10), (0, 8, 15, 21)):
        why = propose(CHAIN, asked, around(month, hour, True, 53.0)).why
        assert why and set(why) <= set(REASONS)


@given(asked=st.sampled_from(all_answers()), change=st.sampled_from(WORSE), **PLACES)
def test_a_worse_answer_never_proposes_a_better_state(
    asked, change, month, hour, leafy, latitude
):
    question, milder, worse = change
    if (question, worse) == ("dry", "hours") and asked.rain != "none":
        return  # before rain, the longer dry spell is the worse
    at = around(month, hour, leafy, latitude)
    better = propose(CHAIN, replace(asked, **{question: milder}), at).index
    assert propose(CHAIN, replace(asked, **{question: worse}), at).index >= better


@given(asked=st.sampled_from(all_answers()), **PLACES)
def test_a_line_with_leaf_fall_is_never_better_than_one_without(
    asked, month, hour, leafy, latitude
):
    bare = propose(CHAIN, asked, around(month, hour, False, latitude)).index
    assert propose(CHAIN, asked, around(month, hour, True, latitude)).index >= bare


@given(asked=st.sampled_from(all_answers()), **PLACES)
def test_no_state_is_proposed_that_nobody_may_pick(asked, month, hour, leafy, latitude):
    assert CHAIN.pickable[propose(CHAIN, asked, around(month, hour, leafy, latitude)).index]


def test_incidents_are_likelier_in_the_hours_in_which_dew_counts():
    """Hours of Ishizaka et al. 2017: mornings from 5 to 10, evenings from 20 to 24."""
    for hour in (5, 6, 7, 8, 9, 20, 21, 22, 23):
        assert dew_may_lie(11, hour, 53.0)


def test_every_question_has_its_place():
    assert [key for key, _ in QUESTIONS] == ["rain", "dry", "dew", "frost"]
