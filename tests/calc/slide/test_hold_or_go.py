"""Hold or go: no verdict assumes that emergency is more than the highest step."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from calc.constants import GRAVITY, MPH
from calc.model import BrakeStep
from calc.slide import Sand, Sander, even_rail, hold_or_go
from calc.slide.hold import ENOUGH, NOT_ENOUGH, UNKNOWN
from calc.slide.model import patch
from tests.calc.cases import line

from .units import unit

HOLD, GO, EMERGENCY = 0, 1, 2


def verdicts(own, speed, distance, mu=0.03, slick=200.0, beyond=0.12, grade=0.0):
    """A slick that begins under the front; the limit lies ``distance`` ahead."""
    distance = np.atleast_1d(np.asarray(distance, dtype=float))
    count = distance.size
    front = np.full(count, 1_000.0)
    rail = even_rail(beyond, count, (patch(900.0, 1_000.0 + slick, mu, count),))
    fast = np.full(count, speed)
    return hold_or_go(own, line(grade), rail, fast, front, front + distance)


def test_on_the_slick_itself_harder_buys_nothing():
    """All the way on the slick: the rail decides, whatever the handle asks."""
    out = verdicts(unit(), 40 * MPH, [300.0, 900.0], slick=5_000.0)
    np.testing.assert_allclose(out.needed[GO], out.needed[HOLD], rtol=2e-3)
    np.testing.assert_allclose(out.needed[EMERGENCY], out.needed[HOLD], rtol=2e-3)
    assert (out.verdict[:, 0] == NOT_ENOUGH).all() and (out.verdict[:, 1] == ENOUGH).all()


def test_behind_the_slick_the_step_in_hand_buys_metres():
    out = verdicts(unit(), 50 * MPH, [500.0])
    assert out.needed[GO, 0] < out.needed[HOLD, 0] - 20.0


def test_distance_needed_is_where_the_verdict_turns():
    own = unit()
    need = verdicts(own, 50 * MPH, [600.0]).needed[:, 0]
    for option, metres in enumerate(need):
        out = verdicts(own, 50 * MPH, [metres - 2.0, metres + 2.0])
        assert out.verdict[option].tolist() == [NOT_ENOUGH, ENOUGH]


def test_latest_place_for_a_move_is_enough_and_a_later_one_is_not():
    own = unit()
    need = verdicts(own, 50 * MPH, [600.0]).needed[:, 0]
    distance = 0.5 * (need[HOLD] + need[GO])
    out = verdicts(own, 50 * MPH, [distance])
    assert out.verdict[:, 0].tolist()[:2] == [NOT_ENOUGH, ENOUGH]
    assert 0 < out.latest[GO, 0] <= distance
    assert np.isnan(out.latest[HOLD, 0])


def test_emergency_equal_to_the_highest_step_gives_the_same():
    own = unit(emergency=0.09)
    out = verdicts(own, 50 * MPH, [450.0])
    np.testing.assert_allclose(out.needed[EMERGENCY], out.needed[GO])
    np.testing.assert_allclose(out.latest[EMERGENCY], out.latest[GO])


def test_emergency_that_is_not_known_has_no_verdict():
    out = verdicts(unit(emergency=None), 50 * MPH, [450.0])
    assert out.verdict[EMERGENCY, 0] == UNKNOWN
    assert np.isnan(out.needed[EMERGENCY, 0]) and np.isnan(out.latest[EMERGENCY, 0])
    assert np.isfinite(out.needed[GO, 0])


def test_emergency_may_be_what_starts_the_sand():
    """Sand from emergency only: the emergency brake of this type is worth more."""
    own = unit()
    sanded = replace(own, sand=Sand((Sander(0, 33.0),), from_step=own.emergency_step))
    plain, with_sand = (
        verdicts(u, 50 * MPH, [900.0], mu=0.02, slick=5e3).needed[:, 0] for u in (own, sanded)
    )
    assert with_sand[GO] == pytest.approx(plain[GO])
    assert with_sand[EMERGENCY] < 0.8 * plain[EMERGENCY]


def test_emergency_that_drops_the_electric_brake_uses_all_wheelsets():
    """Service on half the wheelsets: on the slick emergency finds twice the rail."""
    own = unit(wheelset_share=0.5)
    friction = BrakeStep("emergency", (0.0,), (0.09 * GRAVITY,), 1.0)
    own = replace(own, emergency=friction)
    out = verdicts(own, 40 * MPH, [2_000.0], slick=9e3)
    assert out.needed[EMERGENCY, 0] < 0.7 * out.needed[GO, 0]


def test_emergency_weaker_than_the_highest_step_is_said_to_be():
    weak = unit(emergency=0.05)
    out = verdicts(weak, 50 * MPH, [500.0], slick=60.0)
    assert out.needed[EMERGENCY, 0] > out.needed[GO, 0]
