"""Sand: when it runs, under which wheelsets, and by which law."""

from __future__ import annotations

import numpy as np
import pytest

from calc.constants import GRAVITY
from calc.slide import Sand, Sander

from .units import HOLD, slide, unit

FREE = {"resistance": (0.0, 0.0, 0.0), "rotating": 0.0}


def sanded(*sanders, **rules):
    return unit(8, sand=Sand(tuple(sanders), **rules), **FREE)


def stop(own, speed=25.0, mu=0.02, step="highest", **more):
    return slide(own, HOLD[step], speed, mu, mark=5e3, **more)


def test_variable_rate_by_hand():
    """All wheelsets on sand at once: v v / (2 eta g (mu + dm (1 - exp(-q / q0))))."""
    own = sanded(Sander(0, 4.0, True), delay=0.0, min_speed=0.0, needs_slide=False)
    mu = 0.02 - 0.1 * np.expm1(-4.0 / 11.0)
    # No step before the dead time is over, so sand begins with the brake force.
    result = stop(own, applied=True)
    # The last wheelset comes onto the sand 75 m later.
    assert result.stop[0] == pytest.approx(25.0**2 / (2 * 0.85 * mu * GRAVITY), rel=0.15)
    held = stop(own, applied=True, trace=True).trace.held[-5, 0]
    np.testing.assert_allclose(held, 0.85 * mu * GRAVITY, rtol=1e-6)


def test_wheelsets_ahead_of_the_sander_get_none():
    trace = stop(sanded(Sander(4, 30.0)), trace=True).trace
    middle = trace.held[np.searchsorted(-trace.speed[:, 0], -10.0), 0]
    np.testing.assert_allclose(middle[:4], 0.85 * 0.02 * GRAVITY)
    assert np.all(middle[4:] > 1.2 * middle[0])


def test_two_sanders_add_up_behind_the_second():
    trace = stop(sanded(Sander(0, 10.0, True), Sander(4, 10.0, True)), trace=True).trace
    held = trace.held[np.searchsorted(-trace.speed[:, 0], -8.0), 0] / (0.85 * GRAVITY) - 0.02
    np.testing.assert_allclose(held[:4], -0.1 * np.expm1(-10 / 11))
    np.testing.assert_allclose(held[4:], -0.1 * np.expm1(-20 / 11))


def test_fixed_rate_lies_thicker_where_the_train_was_slower():
    trace = stop(sanded(Sander(0, 30.0), min_speed=1.0), trace=True).trace
    fast, slow = (trace.held[np.searchsorted(-trace.speed[:, 0], -v), 0, 0] for v in (20, 5))
    assert slow > 1.5 * fast


def first_sand(**rules):
    """Seconds until the first wheelset has more than the rail itself."""
    trace = stop(sanded(Sander(0, 30.0), **rules), trace=True).trace
    more = trace.held[:, 0, 0] > 0.85 * 0.02 * GRAVITY * 1.001
    return trace.seconds[np.argmax(more)] if more.any() else np.inf


def test_delay_step_and_minimum_speed_are_kept():
    assert first_sand(delay=2.0) == pytest.approx(first_sand(delay=0.5) + 1.5, abs=0.21)
    assert np.isinf(first_sand(min_speed=30.0))
    assert np.isinf(first_sand(from_step=3)), "emergency was not used"
    assert np.isfinite(first_sand(from_step=2))


def test_sand_stops_below_its_minimum_speed():
    whole, cut = (
        stop(sanded(Sander(0, 30.0), min_speed=v, delay=0.2)).stop[0] for v in (0.0, 12.0)
    )
    assert whole < cut < stop(unit(8, **FREE)).stop[0]


def test_sand_that_needs_a_slide_waits_for_it():
    own = sanded(Sander(0, 30.0), from_step=0, delay=0.0)
    trace = stop(own, mu=0.12, step="lightest", trace=True).trace
    np.testing.assert_allclose(trace.held, 0.85 * 0.12 * GRAVITY)


def test_more_sand_never_lengthens_a_stop():
    stops = [stop(sanded(Sander(2, rate))).stop[0] for rate in (0.0, 5.0, 15.0, 30.0, 60.0)]
    assert np.all(np.diff(stops) < 0)
