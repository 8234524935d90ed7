"""A train driven in plain Python, one wheelset and one short tick after the other.

Written from the rules alone (dead time, build-up, wheel-slide protection that holds and
refills, a driver who reacts), without any table, grid or array of the program, to hold
`calc.forward` against.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import isnan

import numpy as np

from calc.constants import GRAVITY
from calc.model import TableInput

TICK = 0.04
WHEELSETS = 8


@dataclass
class Drive:
    """One train on its way to one mark, and how its driver handles the brake."""

    given: TableInput
    target: int
    train: int
    state: int
    season: int
    speed: float
    brake: float
    step: int
    release_speed: float
    after_speed: float
    ease: bool
    last: float
    last_speed: float
    slick_from: float
    slick_to: float
    slick: float
    react: bool

    def __post_init__(self):
        self.unit = self.given.trains[self.train]
        self.mark = self.given.targets[self.target].mark[self.train]
        self.offsets = [self.unit.length * (i + 0.5) / WHEELSETS for i in range(WHEELSETS)]

    def force(self, step: int, v: float) -> float:
        """Force per unit mass of the train that a step asks for."""
        if step < 0:
            return 0.0
        rule = self.unit.steps[step]
        full = float(np.interp(v, rule.speeds, rule.rates)) * (1 + self.unit.rotating)
        return max(full - self.resistance(v), 0.0) * (1 - self.unit.isolated_share)

    def resistance(self, v: float) -> float:
        a, b, c = self.unit.resistance
        return (a + b * v + c * v * v) / self.unit.mass

    def share(self, step: int) -> float:
        rule = self.unit.steps[max(step, 0)]
        return rule.wheelset_share * (1 - self.unit.isolated_share)

    def rail(self, before: float, v: float) -> float:
        """Rail force per unit weight under a wheelset ``before`` the mark."""
        place, worst = self.mark - before, self.state
        for start, stop, index, seasonal in self.given.line.listed:
            if start <= place < stop and (self.season == 1 or not seasonal):
                worst = max(worst, index)
        state = self.given.states[worst]
        mu = state.plan * float(np.interp(v, state.shape_speeds, state.shape_factors))
        if self.slick_to < before <= self.slick_from:
            mu = min(mu, self.slick)
        return self.given.settings.eta * GRAVITY * mu

    def grade(self, x: float) -> float:
        line = self.given.line
        places = [self.mark - x - offset for offset in self.offsets]
        index = np.searchsorted(line.gradient_from, places, side="right") - 1
        ratios = np.asarray(line.gradient)[np.clip(index, 0, None)]
        return GRAVITY * float(ratios.mean())


def slowing(drive: Drive, x: float, v: float, levels: list[float], share: float):
    """Return the train's deceleration and the rail force under each wheelset."""
    rails = [drive.rail(x + offset, v) for offset in drive.offsets]
    rest = drive.resistance(v) + drive.grade(x)
    rho, a = drive.unit.rotating, 0.0
    for _ in range(12):
        pairs = zip(levels, rails, strict=True)
        grip = sum(min(level - rho * a, held) for level, held in pairs)
        a = (share * grip / WHEELSETS + rest) / (1 + (1 - share) * rho)
    return a, rails


def leave_speed(drive: Drive, v: float, step: int, levels: list[float], slid: bool) -> float:
    """Speed at which the driver leaves the first step to be left with ``after_speed``.

    What a force takes off after the handle moved: it rises on for the dead time, then
    falls. Measured against the same of the full force.
    """
    if step < 0:
        return float("nan")
    unit, full = drive.unit, drive.force(step, v)
    low = drive.force(0, v) if drive.ease else 0.0

    def lost(built: float, peak: float) -> float:
        rising = (built + peak) / 2 * unit.dead_time
        return rising + (peak**2 - low**2) / (2 * unit.release_ramp)

    built = drive.share(step) * sum(levels) / len(levels)
    peak = max(min(built + unit.ramp * unit.dead_time, full), low)
    part = 1.0 if slid else min(max(lost(built, peak) / lost(full, full), 0.0), 1.0)
    return drive.after_speed + part * (drive.release_speed - drive.after_speed)


def stop_of(drive: Drive) -> tuple[float, bool]:
    """Drive to a stand: metres before the mark, and whether any wheelset slid."""
    unit, rho = drive.unit, drive.unit.rotating
    x, v, now = drive.brake, drive.speed, 0.0
    step, orders = -1, [(unit.dead_time, drive.step)]
    levels, phase, slid_at, slid, share = [0.0] * WHEELSETS, "first", None, False, 1.0
    while v > 0 and x > -2_000:
        while orders and orders[0][0] <= now:
            step = orders.pop(0)[1]
            share = drive.share(step)
        goal = drive.force(step, v) / share
        up, down = unit.ramp / share * TICK, unit.release_ramp / share * TICK
        levels = [
            min(level + up, goal) if goal > level else max(level - down, goal)
            for level in levels
        ]
        a, rails = slowing(drive, x, v, levels, share)
        sliding = False
        for i, held in enumerate(rails):
            if levels[i] > held + rho * a + 1e-6:
                levels[i], sliding = held + rho * a, True
        slid |= sliding
        if phase == "run in" and max(levels) <= 0 and step < 0:
            a = min(a, 0.0)
        x, v, now = x - (v - a * TICK / 2) * TICK, v - a * TICK, now + TICK
        if sliding and drive.react and slid_at is None:
            slid_at = now + drive.given.settings.reaction
            orders.append((slid_at + unit.dead_time, len(unit.steps) - 1))
        leave = leave_speed(drive, v, step, levels, slid)
        if slid_at is None and phase == "first" and v <= leave:
            orders.append((now + unit.dead_time, 0 if drive.ease else -1))
            phase = "run in"
        sooner = max(v**2 - drive.last_speed**2, 0.0) / 2 if max(levels) <= 0 else 0.0
        begin = drive.last + sooner / drive.given.settings.least_deceleration
        if slid_at is None and phase == "run in" and not isnan(drive.last) and x <= begin:
            orders.append((now + unit.dead_time, 0))
            phase = "last"
    return (x if v <= 0 else float("nan")), slid
