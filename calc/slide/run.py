"""Forward in time: every run of a batch, tick by tick, to its stand."""

from __future__ import annotations

import numpy as np

from ..constants import GRAVITY
from ..model import Line
from ..track import stepwise_integral
from .check import check_slide
from .handle import OFF, Hand, first_move, move_hand
from .model import Flags, Floats, Ints, Rail, SlideRuns, SlideTrain
from .now import Now
from .plan import plan_speeds
from .rails import RailReader
from .record import Record, Ticked, nothing_slid
from .result import SlideResult
from .sand import SandState, no_sand_yet, run_sand, sand_gain
from .wheels import Gear, Wheels, held_by_rail, make_gear

#: Longest time step [s]; the dead time is a whole number of them.
TICK = 0.1
#: Longest run [s]; what still moves then has not stopped.
LONGEST = 900.0
#: Runs worked on together: their arrays then stay near the processor.
TOGETHER = 1024


def simulate(
    train: SlideTrain,
    line: Line,
    rail: Rail,
    runs: SlideRuns,
    *,
    trace: bool = False,
    longest: float = LONGEST,
    tick: float = TICK,
) -> SlideResult:
    """Drive the runs to a stand.

    Parameters
    ----------
    train : SlideTrain
    line : Line
        Only its gradients are read; listed places belong in the rail.
    rail : Rail
    runs : SlideRuns
    trace : bool
        Keep every time step of every run.
    longest : float
        After this a run that still moves has not stopped. [s]
    tick : float
        Longest time step. [s]

    Raises
    ------
    ValueError
        If a figure is missing or could not be; with what and where.

    Notes
    -----
    a = mean over wheelsets of min(f - rho a, eta mu g) + r + g i. Each cylinder fills
    and empties by first order after a dead time; WSP holds a cylinder at what its own
    rail gives and lets it refill. Translation only: the speed that wheels lose while
    sliding is not followed. One line of wheelsets, equal weights. A patch shorter than
    the way of a tick (2.7 m at 60 mph) may be stepped over by some wheelsets.
    """
    check_slide(train, line, rail, runs)
    record = Record(runs, train, trace)
    gear = make_gear(train, 1.3 * max(float(runs.speed.max()), train.base.max_speed))
    size = runs.speed.size if trace else TOGETHER
    for begin in range(0, runs.speed.size, size):
        live = np.arange(begin, min(begin + size, runs.speed.size))
        _Batch(train, line, rail, runs, gear, live, tick).drive(record, longest)
    return record.result(runs)


class _Batch:
    """Runs that are driven together."""

    def __init__(
        self,
        train: SlideTrain,
        line: Line,
        rail: Rail,
        runs: SlideRuns,
        gear: Gear,
        live: Ints,
        tick: float,
    ) -> None:
        self.train, self.line, self.gear = train, line, gear
        dead = train.base.dead_time
        self.lag = int(np.ceil(dead / tick - 1e-9))
        self.tick = dead / self.lag if self.lag else tick
        self.runs, self.rail = runs.take(live), RailReader(train, rail.take(live))
        self.hand: Hand = first_move(self.runs.orders)
        self.sand: SandState = no_sand_yet(live.size)
        self.slid = nothing_slid(live.size, train.wheelsets)
        self._begin(live)

    def _begin(self, live: Ints) -> None:
        runs = self.runs
        first = np.where(runs.applied, runs.orders.step, OFF)
        place = self.gear.force.place_of(runs.speed**2)
        force = self.gear.force.at(first + 1, place)
        level = force[:, None] * self.gear.pattern[first + 1]
        self.wheels = Wheels(self.train, self.gear, level, self.tick)
        self.waiting = np.tile(first, (max(self.lag, 1), 1))
        rest = self.gear.resistance.at(np.zeros_like(live), place)
        rest = rest + GRAVITY * self._gradient(runs.start)
        slowing = (force + rest) / (1.0 + self.train.base.rotating)
        self.now = Now(
            live, runs.start.copy(), runs.speed.copy(), slowing, first, runs.speed.copy()
        )

    def drive(self, record: Record, longest: float) -> None:
        """Drive every run to its stand, or for as long as allowed."""
        for count in range(int(np.ceil(longest / self.tick))):
            self._tick(count, record)
            stood = self.now.speed <= 0
            if stood.all():
                break
            if not record.tracing and np.count_nonzero(stood) * 8 > stood.size:
                self._keep(record, ~stood)
        record.finish(self.now, self.hand, self.slid)

    def _keep(self, record: Record, moving: Flags) -> None:
        """Go on with the runs that still move."""
        record.finish(self.now, self.hand, self.slid)
        where = np.flatnonzero(moving)
        self.runs, self.rail = self.runs.take(where), self.rail.take(where)
        self.hand, self.sand = self.hand.take(moving), self.sand.take(moving)
        self.now, self.slid = self.now.take(moving), self.slid.take(moving)
        self.waiting = self.waiting[:, moving]
        self.wheels.level = self.wheels.level[moving]

    def _tick(self, count: int, record: Record) -> None:
        """Advance every run by one time step."""
        now = self.now
        self._command(count)
        speed = np.maximum(now.speed - 0.5 * self.tick * now.slowing, 0.0)
        middle_front = now.front + 0.5 * self.tick * now.speed
        place = self.gear.force.place_of(speed**2)
        force = self.gear.force.at(now.step + 1, place)
        goal = self.wheels.goal(now.step, force)
        middle, moved = self.wheels.fill(goal, self._friction(place))
        now.force_speed = speed
        held = self._held(middle_front, speed)
        drag = self.gear.resistance.at(np.zeros_like(now.live), place)
        climb = GRAVITY * self._gradient(middle_front)
        slowing = self.wheels.slow(middle, held, drag + climb, now.slowing)
        slowing = self._powered(slowing)
        sliding = self.wheels.protect(moved, held, slowing)
        sliding[now.speed <= 0] = False
        self._feel(sliding, record)
        metres = self._move(slowing)
        record.tick(
            Ticked(
                now,
                self.hand,
                self.slid,
                self.tick,
                self.share,
                self.wheels.level,
                sliding,
                held,
                metres,
                drag,
                climb,
            )
        )

    def _command(self, count: int) -> None:
        """Let the driver move the brake controller, and the dead time pass."""
        now, orders = self.now, self.runs.orders
        built = self.wheels.level.mean(axis=1)
        leave, sooner = plan_speeds(self.train, self.gear, self.hand, orders, now, built)
        move_hand(self.hand, orders, now.front, now.speed, leave, sooner)
        slot = count % self.waiting.shape[0]
        if self.lag:
            now.step = self.waiting[slot].copy()
            self.waiting[slot] = self.hand.step
        else:
            now.step = self.hand.step.copy()

    def _friction(self, place: tuple[Ints, Floats]) -> Floats:
        """Return how friction at the same pressure changed since the last time step."""
        row = np.where(self.now.step == OFF, self.gear.pattern.shape[0] - 1, self.now.step + 1)
        before = self.gear.force.at(row, self.gear.force.place_of(self.now.force_speed**2))
        return np.asarray(self.gear.force.at(row, place) / np.maximum(before, 1e-9))

    def _held(self, front: Floats, speed: Floats) -> Floats:
        """Return what the rail can give each wheelset, sand and all. [m/s2]."""
        mu = self.rail.adhesion(front, speed)
        sand = self.train.sand
        if sand is not None:
            now = self.now
            slid = self.hand.since_slide >= 0
            run_sand(sand, self.sand, now.step, slid, now.front, now.speed, self.tick)
            if np.isfinite(self.sand.begun).any():
                mu = mu + sand_gain(self.train, sand, self.sand, front, speed, now.slowing)
        return held_by_rail(self.train, mu)

    def _gradient(self, front: Floats) -> Floats:
        """Return the mean gradient under the train, evenly over its length. [-]."""
        starts, values = self.line.gradient_from, self.line.gradient
        if len(values) == 1:
            return np.full(front.shape, values[0])
        length = max(self.train.base.length, 1.0)
        high = stepwise_integral(starts, values, front)
        return np.asarray((high - stepwise_integral(starts, values, front - length)) / length)

    def _powered(self, slowing: Floats) -> Floats:
        """Let a driver who runs in hold the speed where the line rises."""
        running = (self.hand.step == OFF) & (self.now.step == OFF) & (self.hand.phase == 1)
        running &= self.hand.since_slide < 0
        if not running.any():
            return slowing
        running &= self.wheels.level.max(axis=1) < 0.01
        return np.where(running, np.minimum(slowing, 0.0), slowing)

    def _feel(self, sliding: Flags, record: Record) -> None:
        """Let time pass since the first sign of a slide."""
        hand, felt = self.hand, sliding.any(axis=1)
        new = felt & (hand.since_slide < 0)
        record.first_sign(self.now, new)
        passed = np.where(hand.since_slide >= 0, hand.since_slide + self.tick, -1.0)
        hand.since_slide = np.where(new, 0.0, passed)

    def _move(self, slowing: Floats) -> Floats:
        """Move the trains, to the very place where one stands; return the way. [m]."""
        now = self.now
        later = now.speed - slowing * self.tick
        stands = later <= 0
        share = np.where(stands, now.speed / np.maximum(slowing, 1e-9), self.tick)
        self.share = np.minimum(share, self.tick)
        later = np.where(stands, 0.0, later)
        metres = 0.5 * (now.speed + later) * self.share
        now.front = now.front + metres
        now.speed = later
        now.slowing = slowing
        return np.asarray(metres)
