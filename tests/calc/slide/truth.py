"""One slide solved by SciPy with events, apart from our ticks.

Between events the set of sliding wheelsets, the rail under each and the step asked for
stay as they are, so each piece is smooth; pieces end where a wheelset begins to slide,
crosses the end of a patch, or the handle's order arrives.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from scipy.integrate import solve_ivp

from calc.constants import GRAVITY
from calc.slide import SlideTrain


@dataclass
class Slide:
    """A train that holds or changes its step at given times, on patches of rail."""

    train: SlideTrain
    speed: float
    adhesion: float
    patches: list[tuple[float, float, float]]
    orders: list[tuple[float, int]]
    gradient: float = 0.0
    slid: set[int] = field(default_factory=set)

    def force(self, step: int, v: float) -> float:
        base = self.train.base
        if step < 0:
            return 0.0
        rule = base.steps[step]
        rate = float(np.interp(v, rule.speeds, rule.rates))
        return max(rate * (1 + base.rotating) - self.drag(v), 0.0)

    def drag(self, v: float) -> float:
        a, b, c = self.train.base.resistance
        return (a + b * v + c * v * v) / self.train.base.mass

    def held(self, index: int, x: float) -> float:
        place = x - self.train.offsets[index] + 1e-7
        mu = min(
            [self.adhesion] + [m for begin, end, m in self.patches if begin <= place < end]
        )
        return self.train.eta * GRAVITY * mu


def slowing(case: Slide, held, sliding, levels, v):
    """a from the balance of the whole train, for a known set of sliding wheelsets."""
    n, rho = case.train.wheelsets, case.train.base.rotating
    grip = sum(held[i] if i in sliding else levels[i] for i in range(n)) / n
    rolling = 1.0 - len(sliding) / n
    return (grip + case.drag(v) + GRAVITY * case.gradient) / (1 + rho * rolling)


def settle(case: Slide, held, levels, v, goal):
    """Return which wheelsets slide at this moment: those that ask for more than held.

    One held by WSP sits at the limit itself and goes on sliding while it refills.
    """
    rho, sliding = case.train.base.rotating, set()
    for _ in range(case.train.wheelsets + 1):
        a = slowing(case, held, sliding, levels, v)
        more = {i for i, f in enumerate(levels) if min(f, goal) - rho * a > held[i] - 1e-7}
        if more <= sliding:
            return sliding
        sliding |= more
    return sliding


def events_of(case: Slide, held, sliding, x0: float):
    """Return what ends a smooth piece: a stand, a wheelset that slides, a patch's end."""
    n, rho = case.train.wheelsets, case.train.base.rotating
    ends = {e for begin, end, _ in case.patches for e in (begin, end)}
    was = x0 - case.train.offsets + 1e-6

    def stands(_, y):
        return y[1]

    def slides(_, y):
        a = slowing(case, held, sliding, y[2:], y[1])
        rest = [y[2 + i] - rho * a - held[i] for i in range(n) if i not in sliding]
        return max(rest, default=-1.0)

    def crosses(_, y):
        places = y[0] - case.train.offsets
        ahead = [e - p for p, w in zip(places, was, strict=True) for e in ends if e > w]
        return min(ahead, default=1.0)

    for event, way in ((stands, -1), (slides, 1), (crosses, -1)):
        event.terminal, event.direction = True, way
    return stands, slides, crosses


def motion_of(case: Slide, held, sliding, step: int):
    """Return the equation of motion of a smooth piece."""

    def motion(_, y):
        a = slowing(case, held, sliding, y[2:], y[1])
        goal = case.force(step, y[1])
        tau = np.where(goal > y[2:], case.train.fill_time, case.train.empty_time)
        change = (goal - y[2:]) / tau
        change[list(sliding)] = 0.0
        return np.concatenate([[y[1], -a], change])

    return motion


def stop_of(case: Slide) -> tuple[float, float]:
    """Return where and when the train stands."""
    n, rho = case.train.wheelsets, case.train.base.rotating
    t, y, step = 0.0, np.array([0.0, case.speed] + [0.0] * n), -1
    while t < 399.0:
        for due, wanted in case.orders:
            step = wanted if due <= t + 1e-9 else step
        held = [case.held(i, y[0]) for i in range(n)]
        sliding = settle(case, held, list(y[2:]), y[1], case.force(step, y[1]))
        case.slid |= sliding
        for i in sliding:
            y[2 + i] = held[i] + rho * slowing(case, held, sliding, y[2:], y[1])
        until = min((due for due, _ in case.orders if due > t + 1e-9), default=t + 400.0)
        found = solve_ivp(
            motion_of(case, held, sliding, step),
            (t, until),
            y,
            events=events_of(case, held, sliding, y[0]),
            rtol=1e-7,
            atol=1e-7,
            max_step=1.0,
        )
        assert found.success, found.message
        t, y = found.t[-1], found.y[:, -1].copy()
        # A held cylinder follows the spin of its wheelset while it slides.
        for i in sliding:
            y[2 + i] = held[i] + rho * slowing(case, held, sliding, y[2:], y[1])
        if found.t_events[0].size:
            return float(y[0]), float(t)
    raise AssertionError("the train never stands")
