"""Rain by the hour, and the calendar of leaves."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc.weather.rain import Wetting, wetting
from calc.weather.season import day_of_year, in_days, incident_hour, leaf_fall_days

DRY_DAY = [1.0] + [0.0] * 30


@pytest.mark.parametrize(
    ("hours", "found"),
    [
        ([*DRY_DAY, 0.2], Wetting.FIRST),
        ([*DRY_DAY, 0.2, 0.0, 0.3], Wetting.FIRST),
        ([*DRY_DAY, 0.6], Wetting.FIRST),
        ([1.0, *[0.0] * 6, 0.7], Wetting.LIGHT),
        ([*DRY_DAY, 1.0, 1.5], Wetting.STEADY),
        ([*DRY_DAY, 3.0], Wetting.STEADY),
        ([*DRY_DAY, 3.0, 0.2], Wetting.LIGHT),
        ([1.0, *[0.0] * 6, 0.2], Wetting.LIGHT),
        ([*DRY_DAY, 3.0, 0.0], Wetting.DRYING),
        ([*DRY_DAY, 3.0, 0.0, 0.0, 0.0], Wetting.DRYING),
        ([*DRY_DAY, 3.0, 0.0, 0.0, 0.0, 0.0], Wetting.NONE),
        ([0.0] * 10, Wetting.NONE),
    ],
)
def test_what_the_rain_of_the_last_hours_has_made(hours, found):
    assert wetting(hours) is found


def test_a_record_that_does_not_reach_back_counts_as_the_first_rain():
    assert wetting([0.0, 0.0, 0.2]) is Wetting.FIRST
    assert wetting([None, 0.0, 0.2]) is Wetting.FIRST


@pytest.mark.parametrize("hours", [[0.0], [0.0] * 3, [0.0] * 9 + [None], [None, 0.0, 0.0]])
def test_what_was_not_seen_is_unknown(hours):
    assert wetting(hours) is None


def test_dry_hours_before_an_unknown_time_stand_for_a_record():
    assert wetting([None, *[0.0] * 30, 0.2]) is Wetting.FIRST
    assert wetting([None, *[0.0] * 30, 0.0]) is Wetting.NONE
    assert wetting([None, 0.0]) is None


@pytest.mark.parametrize("hours", [[], [-0.1, 0.0], [float("nan")]])
def test_impossible_rain_is_refused(hours):
    with pytest.raises(ValueError, match="rain"):
        wetting(hours)


@given(st.lists(st.none() | st.floats(0, 20), min_size=1, max_size=40))
def test_any_record_has_an_answer_and_a_missing_hour_has_none(hours):
    found = wetting(hours)
    assert found is None or isinstance(found, Wetting)
    if hours[-1] is None:
        assert found is None
    if found is Wetting.NONE:
        assert hours[-1] == 0.0


def test_the_british_season_at_its_latitude():
    assert leaf_fall_days(53.0) == (day_of_year(10, 1), day_of_year(12, 24))


def test_farther_north_it_begins_earlier_and_south_of_the_equator_half_a_year_off():
    assert leaf_fall_days(58.0)[0] < leaf_fall_days(53.0)[0] < leaf_fall_days(45.0)[0]
    first, last = leaf_fall_days(-41.0)
    assert day_of_year(3, 15) < first < day_of_year(5, 15) and first < last


@pytest.mark.parametrize("latitude", [0.0, 20.0, 70.0, -80.0])
def test_where_nothing_is_known_nothing_is_said(latitude):
    assert leaf_fall_days(latitude) is None


def test_a_season_may_hold_over_new_year():
    assert in_days(360, 350, 20) and in_days(5, 350, 20) and not in_days(100, 350, 20)


def test_days_and_hours_that_are_none_are_refused():
    assert day_of_year(2, 29) == day_of_year(3, 1) == 60
    for call in (
        lambda: day_of_year(13, 1),
        lambda: day_of_year(4, 31),
        lambda: in_days(0, 1, 2),
        lambda: incident_hour(25),
        lambda: leaf_fall_days(float("nan")),
    ):
        with pytest.raises(ValueError):
            call()


def test_incident_hours_are_five_to_ten_and_eight_to_midnight():
    assert [h for h in range(24) if incident_hour(h)] == [5, 6, 7, 8, 9, 20, 21, 22, 23]
    assert not incident_hour(24)
