"""Trains, rails and runs of slides for the tests."""

from __future__ import annotations

import numpy as np

from calc.constants import GRAVITY
from calc.model import BrakeStep
from calc.slide import Handling, Rail, SlideRuns, SlideTrain, even_rail, orders_of, simulate
from calc.slide.handlings import together
from calc.slide.model import patch
from tests.calc.cases import line, train

#: Resistance of 100 t on level track: assumption, as tests/outside.
OWN = (1_500.0, 20.0, 6.0)


def unit(wheelsets=8, *, emergency=0.12, length=80.0, rotating=0.08, **more) -> SlideTrain:
    """Return a train of steps of 3, 6 and 9 %g; emergency in g, or None."""
    slide = {
        name: more.pop(name)
        for name in list(more)
        if name in SlideTrain.__dataclass_fields__ and name != "emergency"
    }
    base = train(
        length=length, rotating=rotating, resistance=more.pop("resistance", OWN), **more
    )
    brake = (
        None if emergency is None else BrakeStep("emergency", (0.0,), (emergency * GRAVITY,))
    )
    return SlideTrain(base, wheelsets, emergency=brake, **slide)


def runs_of(train, handlings, speed, *, start=0.0, mark=1_000.0, margin=30.0, applied=False):
    """Return one run a handling; or one a speed where there is one handling."""
    count = max(len(handlings), np.size(speed))
    parts = handlings if len(handlings) == count else list(handlings) * count
    marks = np.broadcast_to(np.asarray(mark, dtype=float), (count,)).copy()
    orders = together([orders_of(h, train, marks[i : i + 1]) for i, h in enumerate(parts)])
    return SlideRuns(
        np.broadcast_to(np.asarray(speed, dtype=float), (count,)).copy(),
        np.broadcast_to(np.asarray(start, dtype=float), (count,)).copy(),
        marks,
        marks + margin,
        np.full(count, applied),
        orders,
    )


def slide(train, handlings, speed, adhesion, *, gradient=0.0, patches=(), trace=False, **more):
    """Drive and return the result; a patch is (begin, end, adhesion)."""
    if isinstance(handlings, Handling):
        handlings = [handlings]
    runs = runs_of(train, handlings, speed, **more)
    count = runs.speed.size
    laid = tuple(patch(*ends, count) for ends in patches)
    rail = adhesion if isinstance(adhesion, Rail) else even_rail(adhesion, count, laid)
    return simulate(train, line(gradient), rail, runs, trace=trace)


HOLD = {name: Handling(f"hold {name}", step=name) for name in ("lightest", "usual", "highest")}
