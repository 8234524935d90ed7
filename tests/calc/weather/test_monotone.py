"""What makes a rail worse never makes the proposed state better."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from calc.weather.findings import Place
from calc.weather.observation import Hour
from calc.weather.suggest import suggest
from tests.calc.weather.test_suggest import CHAIN, KEYS, places, records

#: Warm enough that no rail freezes: moister air sends more warmth down to a rail and may keep
#: it from freezing, which is no fault.
warm = st.builds(
    Hour,
    air=st.floats(12, 35),
    humidity=st.floats(0.05, 1.0),
    rain=st.sampled_from([0.0, 0.1, 0.4, 1.0, 5.0]),
    wind=st.none() | st.floats(0, 20),
    cloud=st.floats(0, 1),
)
cold = st.builds(
    Hour,
    air=st.floats(-15, 12),
    humidity=st.floats(0.05, 1.0),
    rain=st.just(0.0),
    wind=st.none() | st.floats(0, 20),
    cloud=st.floats(0, 1),
)


def rank(now: Hour, before: list[float | None], place: Place) -> int:
    """Place in the chain; -1 for none."""
    state = suggest(CHAIN, now, [*before, now.rain], place).state
    return -1 if state is None else KEYS.index(state)


@settings(deadline=None)
@given(warm, records, places, st.floats(0, 1))
def test_air_nearer_its_dew_point_is_never_better(now, before, place, share):
    moister = replace(now, humidity=now.humidity + share * (1.0 - now.humidity))
    assert rank(moister, before, place) >= rank(now, before, place)


@settings(deadline=None)
@given(st.one_of(warm, cold), records, places, st.floats(0, 1))
def test_a_clearer_sky_is_never_better(now, before, place, share):
    clearer = replace(now, cloud=now.cloud * share)
    assert rank(clearer, before, place) >= rank(now, before, place)
    assert rank(replace(now, cloud=None), before, place) >= rank(now, before, place)


@settings(deadline=None)
@given(warm, places, st.integers(0, 60), st.integers(0, 60))
def test_rain_after_a_longer_dry_spell_is_never_better(now, place, dry, more):
    assume(now.rain > 0)
    before = [2.0, *([0.0] * dry)]
    longer = [2.0, *([0.0] * (dry + more))]
    # Rain that goes on after a short break may have washed the rail: that is another spell.
    assume(dry > 2)
    assert rank(now, longer, place) >= rank(now, before, place)


@settings(deadline=None)
@given(st.one_of(warm, cold), records, places)
def test_a_line_with_leaf_fall_is_never_better(now, before, place):
    bare, leafy = (replace(place, leafy=one) for one in (False, True))
    assert rank(now, before, leafy) >= rank(now, before, bare)
