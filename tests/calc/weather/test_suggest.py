"""The suggestion: what each weather makes of a rail, and what may never happen."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calc.weather.chain import CONDITIONS, Chain
from calc.weather.findings import Place, look
from calc.weather.observation import WORDS, Hour
from calc.weather.season import day_of_year
from calc.weather.signs import SIGNS, worsen
from calc.weather.suggest import BEYOND, LABEL, suggest

KEYS = ("dry", "wet", "damp", "frost", "leaf", "very-low")
CHAIN = Chain(KEYS, (True,) * 5 + (False,), tuple((c, c) for c in CONDITIONS))
JUNE = Place(day_of_year(6, 10), 13.0, 53.0, None)
NOVEMBER = Place(day_of_year(11, 5), 13.0, 53.0, False)
LEAFY = Place(day_of_year(11, 5), 13.0, 53.0, True)
FINE = Hour(air=15.0, humidity=0.55, rain=0.0, wind=3.0, cloud=0.2)
DRY_SPELL = [0.0] * 40


def suggested(now=FINE, before=DRY_SPELL, place=JUNE, signs=()):
    return suggest(CHAIN, now, [*before, now.rain], place, signs)


def hour(**changed):
    return Hour(**({"air": 15.0, "humidity": 0.55, "rain": 0.0, "wind": 3.0} | changed))


def test_a_fine_day_is_dry_and_says_why():
    found = suggested()
    assert found.state == "dry" and found.reasons and not found.unknown
    assert found.label == LABEL


def test_the_first_light_rain_after_dry_days_is_damp():
    found = suggested(hour(rain=0.2))
    assert found.state == "damp"
    assert "first light rain after dry days" in found.reasons


def test_steady_rain_is_wet_but_not_in_the_leaf_fall_season():
    rain = hour(rain=2.0, humidity=0.97)
    before = [*DRY_SPELL, 2.0, 2.0]
    assert suggested(rain, before, JUNE).state == "wet"
    capped = suggested(rain, before, NOVEMBER)
    assert capped.state == "damp"
    assert any("leaf residue is not 'wet'" in words for words in capped.reasons)
    assert suggested(rain, before, LEAFY).state == "leaf"


def test_a_cloudless_calm_night_brings_dew_and_a_cold_one_frost():
    night = Place(day_of_year(9, 10), 2.0, 53.0, False)
    still = hour(humidity=0.85, wind=0.0, cloud=0.0)
    found = suggested(still, place=night)
    assert found.state == "damp" and "simple model" in found.reasons[0]
    assert suggested(hour(humidity=0.85, wind=6.0, cloud=1.0), place=night).state == "dry"
    cold = hour(air=1.0, humidity=0.9, wind=0.0, cloud=0.0)
    assert suggested(cold, place=night).state == "frost"


def test_by_day_the_sun_is_not_forgotten():
    assert suggested(hour(humidity=0.85, wind=0.0, cloud=0.0), place=JUNE).state == "dry"


def test_an_hour_of_more_incidents_counts_damp_sooner():
    near = hour(humidity=0.85, cloud=1.0, wind=5.0)  # spread 2.5 K
    noon, morning = JUNE, Place(JUNE.day, 8.0, 53.0, None)
    assert suggested(near, place=noon).state == "dry"
    found = suggested(near, place=morning)
    assert found.state == "damp" and "more incidents" in found.reasons[0]


@pytest.mark.parametrize(
    ("word", "state"),
    [("mist", "damp"), ("frost", "frost"), ("snow", "frost"), ("drizzle", "damp")],
)
def test_a_word_counts_though_the_figures_show_nothing(word, state):
    assert suggested(hour(word=word)).state == state


def test_snow_names_the_brake_too():
    assert any("brake force" in words for words in suggested(hour(word="snow")).reasons)


def test_what_is_not_known_is_said_and_nothing_is_called_dry():
    found = suggested(Hour(rain=0.0))
    assert found.state is None
    assert any("humidity" in words for words in found.unknown)
    nothing = suggest(CHAIN, Hour(), [None], Place())
    assert nothing.state is None and len(nothing.unknown) == 3


def test_unknown_cloud_and_wind_count_as_the_worse():
    night = Place(day_of_year(9, 10), 2.0, 53.0, False)
    found = suggested(Hour(air=15.0, humidity=0.85, rain=0.0), place=night)
    assert found.state == "damp"
    assert {"cloud: not known, counted as none", "wind: not known, counted as calm"} <= set(
        found.unknown
    )


def test_an_unknown_season_caps_like_leaf_fall():
    rain = hour(rain=2.0)
    found = suggest(CHAIN, rain, [2.0, 2.0, 2.0], Place(hour=13.0))
    assert found.state == "damp" and any("season" in words for words in found.unknown)


def test_the_dew_point_serves_where_humidity_is_missing():
    assert suggested(Hour(air=15.0, dew_point=14.5, rain=0.0, wind=3.0)).state == "damp"


def test_signs_worsen_and_beyond_the_last_state_nothing_is_suggested():
    assert suggested(signs=["mist"]).state == "damp"
    assert suggested(signs=["dull railhead"]).state == "leaf"
    past = suggested(signs=["leaves"], place=LEAFY)
    assert past.state == "leaf" and not past.beyond
    slid = suggested(hour(rain=0.2), place=LEAFY, signs=["slide"])
    assert slid.state == "leaf" and slid.beyond and slid.reasons[0] == BEYOND


def test_signs_alone_suggest_where_weather_is_unknown():
    alone = suggest(CHAIN, Hour(), [None], Place(), ["slip at start"])
    assert alone.state == "damp"


def test_a_sign_that_is_not_one_is_refused():
    with pytest.raises(ValueError, match="sign 'rain'"):
        worsen(CHAIN, 0, ["rain"])


hours = st.builds(
    Hour,
    air=st.none() | st.floats(-15, 35),
    humidity=st.none() | st.floats(0.05, 1.0),
    rain=st.none() | st.sampled_from([0.0, 0.1, 0.4, 1.0, 5.0]),
    wind=st.none() | st.floats(0, 20),
    cloud=st.none() | st.floats(0, 1),
    word=st.none() | st.sampled_from(WORDS),
)
places = st.builds(
    Place,
    day=st.none() | st.integers(1, 365),
    hour=st.none() | st.floats(0, 24),
    latitude=st.none() | st.floats(-90, 90),
    leafy=st.none() | st.booleans(),
)
records = st.lists(st.none() | st.sampled_from([0.0, 0.0, 0.2, 2.0]), max_size=30)
signs = st.sets(st.sampled_from(sorted(SIGNS)))


@settings(deadline=None)
@given(hours, records, places, signs, signs)
def test_more_signs_never_give_a_better_state(now, before, place, few, more):
    rain = [*before, now.rain]
    fewer = suggest(CHAIN, now, rain, place, sorted(few))
    worse = suggest(CHAIN, now, rain, place, sorted(few | more))
    if fewer.state is not None:
        assert KEYS.index(worse.state) >= KEYS.index(fewer.state)
        assert worse.beyond >= fewer.beyond


@settings(deadline=None)
@given(hours, records, places, signs)
def test_the_state_no_one_may_pick_is_never_suggested(now, before, place, met):
    found = suggest(CHAIN, now, [*before, now.rain], place, sorted(met))
    assert found.state != "very-low"
    assert found.reasons or found.unknown


@settings(deadline=None)
@given(hours, records, places)
def test_dry_is_only_said_where_everything_that_matters_is_known(now, before, place):
    found = suggest(CHAIN, now, [*before, now.rain], place)
    if found.state == "dry":
        assert now.air is not None and now.humidity is not None and now.rain == 0.0


@settings(deadline=None)
@given(hours, records, places)
def test_leaf_fall_never_makes_a_state_better(now, before, place):
    rain = [*before, now.rain]
    season = Place(place.day, place.hour, place.latitude, place.leafy, (1, 365))
    off = (place.day % 365) + 1 if place.day else 1
    out = Place(place.day, place.hour, place.latitude, place.leafy, (off, off))
    inside, outside = (suggest(CHAIN, now, rain, p).state for p in (season, out))
    if outside is not None:
        assert KEYS.index(inside) >= KEYS.index(outside)


def test_a_chain_by_other_names_is_served_as_well():
    other = Chain(
        ("A", "B", "C"),
        (True, True, False),
        (("dry", "A"), *((c, "B") for c in CONDITIONS[1:])),
    )
    assert suggest(other, FINE, [*DRY_SPELL, 0.0], JUNE).state == "A"
    assert suggest(other, FINE, [*DRY_SPELL, 0.0], JUNE, ["leaves", "slide"]).state == "B"


@pytest.mark.parametrize(
    ("keys", "pickable", "means", "words"),
    [
        (("a",), (True,), (), "two states"),
        (("a", "a"), (True, False), (), "twice"),
        (("a", "b"), (True, True), (), "last rail state"),
        (("a", "b"), (False, False), (), "last rail state"),
        (("a", "b"), (True, False), (("dry", "a"),), "'wet'"),
        (("a", "b"), (True, False), tuple((c, "b") for c in CONDITIONS), "pickable"),
    ],
)
def test_a_chain_that_cannot_hold_a_suggestion_is_refused(keys, pickable, means, words):
    with pytest.raises(ValueError, match=words):
        Chain(keys, pickable, means)


@pytest.mark.parametrize(
    ("given_", "words"),
    [
        ({"air": float("nan")}, "air temperature"),
        ({"humidity": 55.0}, "share of 1"),
        ({"rain": -0.1}, "rain"),
        ({"wind": -2.0}, "wind"),
        ({"cloud": 8.0}, "cloud"),
        ({"word": "sleet"}, "'sleet'"),
        ({"air": 10.0, "dew_point": 11.0}, "above the air"),
    ],
)
def test_an_hour_that_cannot_be_is_refused(given_, words):
    with pytest.raises(ValueError, match=words):
        Hour(**given_)


def test_the_rain_must_end_in_the_present_hour():
    with pytest.raises(ValueError, match="last hour"):
        look(Hour(rain=1.0), [0.0], JUNE)
