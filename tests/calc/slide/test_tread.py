"""Is the newer brake worse? The table a driver asks for, and the law behind it."""

from __future__ import annotations

import numpy as np
import pytest

from calc.constants import KMH, MPH
from calc.model import RailState
from calc.slide.compare import BlockData, compare_brakes
from calc.slide.tread import (
    adhesion_through_films,
    cast_iron_fade,
    cast_iron_friction,
    film_on_rail,
    film_on_tyre,
)

from .units import unit

STATES = (
    RailState("dry", 0.15, 0.05),
    RailState("damp", 0.07, 0.03),
    RailState("leaf film", 0.04, 0.02),
    RailState("very low", 0.02, 0.01),
)
SPEEDS = np.array([20, 40, 60, 75]) * MPH
DISC, TREAD, BARE = 0, 1, 2


@pytest.fixture(scope="module")
def table():
    out = compare_brakes(unit(), 1, STATES, SPEEDS)
    for s, state in enumerate(out.states):
        for b, brake in enumerate(out.brakes):
            print(f"{state:10} {brake:14}", np.round(out.metres[b, s]).astype(int))
    return out


def test_in_very_low_adhesion_all_need_about_the_same(table):
    """Within 10 %, with and without WSP, at every speed (common practice, no source)."""
    ratio = table.metres[1:, 3] / table.metres[DISC, 3]
    assert np.all(np.abs(ratio - 1) < 0.10), ratio


def test_on_good_rail_cast_iron_is_weaker_from_high_speed(table):
    """Weaker at high speed, stronger near the stand (common practice, no source)."""
    assert np.all(table.metres[TREAD, 0, 2:] > 1.1 * table.metres[DISC, 0, 2:])
    assert cast_iron_friction(np.array(5 * KMH)) > 1.5


def test_blocks_clean_the_tyre_so_wsp_on_tread_gains_on_leaf_film(table):
    assert np.all(table.metres[TREAD, 2] < table.metres[DISC, 2])
    assert np.all(table.metres[BARE, 2] > table.metres[TREAD, 2])


def test_disc_slides_where_tread_asks_too_little(table):
    assert table.slid[:, 3].all()
    assert not table.slid[:, 0].any()


def test_hot_blocks_fade_and_discs_do_not():
    hot = BlockData(start=300.0)
    cold, faded = (compare_brakes(unit(), 1, STATES[:1], SPEEDS, b) for b in (None, hot))
    assert np.all(faded.metres[TREAD] > 1.05 * cold.metres[TREAD])
    np.testing.assert_array_equal(faded.metres[DISC], cold.metres[DISC])
    assert np.all(cold.hottest[TREAD, 0] > 15.0)


def test_films_in_series():
    mu = np.array([0.02, 0.04, 0.07, 0.15])
    rail, tyre = film_on_rail(0.25, mu), film_on_tyre(0.25, mu)
    np.testing.assert_allclose(adhesion_through_films(0.25, rail, tyre), mu)
    clean = adhesion_through_films(0.25, rail, 0 * tyre)
    gain = clean / mu
    assert np.all(np.diff(gain[:3]) > 0), "a thick rail film must gain least"
    assert clean.max() <= 0.25


def test_friction_of_cast_iron_by_hand():
    """(V + 100) / (5 V + 100): 36 km/h is the reference; 100 km/h 200/600 over 136/280."""
    assert cast_iron_friction(np.array(36 * KMH)) == pytest.approx(1.0)
    assert cast_iron_friction(np.array(100 * KMH)) == pytest.approx(200 / 600 * 280 / 136)
    np.testing.assert_allclose(cast_iron_fade(np.array([20.0, 100.0, 350.0])), [1, 1, 0.85])


def test_curves_fall_from_the_speed_to_the_stand(table):
    assert np.all(np.diff(table.curve, axis=-1) < 0.02)
    np.testing.assert_allclose(table.curve[..., 0], np.broadcast_to(SPEEDS, (3, 4, 4)))
    np.testing.assert_allclose(table.curve[..., -1], 0.0, atol=1e-9)
