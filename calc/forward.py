"""Forward in time, wheelset by wheelset: what a plan really does.

Every advice and every cover is driven here as a driver would drive it, with cylinders
that fill and empty and wheelsets that hold on their own rail. Batched over runs.

This model shares the deceleration law with the backward sweeps but neither their grid
nor their cell means: gradients and listed places are read under each wheelset.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields

import numpy as np
from numpy.typing import NDArray

from .constants import GRAVITY
from .model import TableInput
from .speed_tables import (
    adhesion_table,
    force_table,
    most_steps,
    resistance_table,
    step_shares,
)

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

#: Time step [s]; handle moves inside a step keep their exact moment.
TICK = 0.1
#: Longest run [s]; what still moves then has not stopped.
LONGEST = 600.0
#: Share of a step's force from which on a driver feels what it gives. [-]
_BUILT = 0.85
#: Slack before a wheelset counts as sliding [m/s2].
_SLIDE = 1e-6


@dataclass(frozen=True)
class Runs:
    """What is to be driven; every array (runs,), distances before the mark [m].

    Attributes
    ----------
    target, train, state, season : numpy.ndarray of int
        Indices into the table's input.
    speed : numpy.ndarray
        Approach speed, held until the handle moves. [m/s]
    brake, step : numpy.ndarray
        Where the handle moves, and to which step. [m, -]
    release_speed, after_speed : numpy.ndarray
        Speed at which the handle leaves the step at full force, so that the other is
        left when it has gone; NaN: never. [m/s]
    ease : numpy.ndarray of bool
        Whether it then goes to the lightest step instead of off.
    last, last_speed : numpy.ndarray
        Where the lightest step is applied again, NaN: never, and the speed meant to be
        had there. [m, m/s]
    slick_from, slick_to, slick : numpy.ndarray
        Far and near end of a surprise slick and its adhesion; NaN: none. [m, m, -]
    react : numpy.ndarray of bool
        Whether a slide makes the driver go to the highest service step.
    """

    target: Ints
    train: Ints
    state: Ints
    season: Ints
    speed: Floats
    brake: Floats
    step: Ints
    release_speed: Floats
    after_speed: Floats
    ease: Flags
    last: Floats
    last_speed: Floats
    slick_from: Floats
    slick_to: Floats
    slick: Floats
    react: Flags

    def take(self, where: Ints | Flags) -> Runs:
        """Return some of the runs."""
        return Runs(**{f.name: getattr(self, f.name)[where] for f in fields(self)})


@dataclass(frozen=True)
class Outcome:
    """How the runs ended; every array (runs,).

    Attributes
    ----------
    stop : numpy.ndarray
        Where the front stood, before the mark positive; NaN if it never did. [m]
    seconds : numpy.ndarray
        From the handle's first move to the stand. [s]
    applications : numpy.ndarray of int
        Times the brake was applied from off.
    slid : numpy.ndarray of bool
        Whether any wheelset slid.
    """

    stop: Floats
    seconds: Floats
    applications: Ints
    slid: Flags


@dataclass
class _State:
    """Where every run is now."""

    distance: Floats
    speed: Floats
    level: Floats
    target: Ints
    pending: Ints
    timer: Floats
    portion: Floats
    phase: Ints
    since_slide: Floats
    slid: Flags
    applications: Ints
    seconds: Floats
    decel: Floats
    stop: Floats = field(default_factory=lambda: np.empty(0))


class Track:
    """Speed tables and profiles of one direction, read under each wheelset.

    `notices`: a driver acts as in a slide once the mark asks for so much more than his
    built-up brake gives; 0: he does what is advised, whatever it gives.
    """

    notices: float = 0.0

    def __init__(self, given: TableInput) -> None:
        top = max(max(given.speeds), max(t.max_speed for t in given.trains)) * 1.3
        trains = given.trains
        self.given = given
        self.steps = most_steps(trains)
        self.phi = step_shares(trains)
        self.force = force_table(trains, top)
        self.resistance = resistance_table(trains, top)
        self.adhesion = adhesion_table(given.states, top)
        self.gradient_from = np.asarray(given.line.gradient_from)
        self.gradient = np.asarray(given.line.gradient)
        self.marks = np.array([t.mark for t in given.targets])
        self.dead_time = np.array([t.dead_time for t in trains])
        self.last_step = np.array([len(t.steps) - 1 for t in trains])
        self.ramp = np.array([t.ramp for t in trains])
        self.fall = np.array([t.release_ramp for t in trains])
        self.rotating = np.array([t.rotating for t in trains])

    def state_under(self, runs: Runs, before: Floats) -> Ints:
        """Return the rail state under each wheelset, (runs, wheelsets)."""
        place = self.marks[runs.target, runs.train][:, None] - before
        state = np.broadcast_to(runs.state[:, None], place.shape).copy()
        for start, stop, index, seasonal in self.given.line.listed:
            on = (place >= start) & (place < stop)
            if seasonal:
                on &= runs.season[:, None] == 1
            state = np.where(on, np.maximum(state, index), state)
        return state

    def rail(self, runs: Runs, front: Floats, speed: Floats, spread: Floats) -> Floats:
        """Return the rail force each wheelset can have, (runs, wheelsets). [m/s2]."""
        before = front[:, None] + spread
        state = self.state_under(runs, before)
        mu = self.adhesion.at(state, self.adhesion.place_of(speed[:, None] ** 2))
        if np.isfinite(runs.slick).any():
            on = (before <= runs.slick_from[:, None]) & (before > runs.slick_to[:, None])
            mu = np.where(on, np.minimum(mu, runs.slick[:, None]), mu)
        return np.asarray(self.given.settings.eta * GRAVITY * mu)

    def grade(self, runs: Runs, front: Floats, spread: Floats) -> Floats:
        """Return g times the mean gradient under the wheelsets. [m/s2]."""
        marks = self.marks[runs.target, runs.train]
        place = marks[:, None] - front[:, None] - spread
        index = np.searchsorted(self.gradient_from, place, side="right") - 1
        index = np.clip(index, 0, self.gradient.size - 1)
        return np.asarray(GRAVITY * self.gradient[index].mean(axis=1))


def drive(
    given: TableInput, runs: Runs, wheelsets: int = 8, track: Track | None = None
) -> Outcome:
    """Drive the runs to a stand.

    Parameters
    ----------
    given : TableInput
    runs : Runs
    wheelsets : int
        How many a train of any length is represented by, spread evenly; a point train
        has one.
    track : Track, optional
        A rail of its own making; by default the rail states as planned.

    Notes
    -----
    A wheelset that slides gives eta mu g; wheel-slide protection holds its cylinder at
    that level and refills at the build-up rate when grip returns. Running in, a driver
    holds the speed where the line rises and gathers it where the line falls.
    """
    track = track or Track(given)
    lengths = np.array([t.length for t in given.trains])[runs.train]
    spread = lengths[:, None] * ((np.arange(wheelsets) + 0.5) / wheelsets)
    count = runs.speed.size
    now = _State(
        distance=runs.brake.copy(),
        speed=runs.speed.copy(),
        level=np.zeros((count, wheelsets)),
        target=np.full(count, -1),
        pending=runs.step.copy(),
        timer=track.dead_time[runs.train],
        portion=np.ones(count),
        phase=np.zeros(count, dtype=np.int64),
        since_slide=np.full(count, np.nan),
        slid=np.zeros(count, dtype=bool),
        applications=np.ones(count, dtype=np.int64),
        seconds=np.zeros(count),
        decel=np.zeros(count),
        stop=np.full(count, np.nan),
    )
    live = np.arange(count)
    result = _State(**{f.name: getattr(now, f.name).copy() for f in fields(now)})
    for _ in range(int(LONGEST / TICK)):
        _tick(track, runs, now, spread)
        ended = np.isfinite(now.stop) | (now.distance < -2000.0)
        if not ended.any():
            continue
        _store(result, now, live, ended)
        live, keep = live[~ended], ~ended
        if live.size == 0:
            break
        runs, spread = runs.take(keep), spread[keep]
        now = _State(**{f.name: getattr(now, f.name)[keep] for f in fields(now)})
    return Outcome(result.stop, result.seconds, result.applications, result.slid)


def _store(result: _State, now: _State, live: Ints, ended: Flags) -> None:
    for f in fields(now):
        getattr(result, f.name)[live[ended]] = getattr(now, f.name)[ended]


def _tick(track: Track, runs: Runs, now: _State, spread: Floats) -> None:
    """Advance every run by one time step."""
    rotating = track.rotating[runs.train]
    _command(track, runs, now)
    at = np.maximum(now.target, 0)
    phi = track.phi[runs.train, at]
    place = track.force.place_of(now.speed**2)
    asked = track.force.at(runs.train * track.steps + at, place) / phi
    asked = np.where(now.target >= 0, asked, 0.0)
    goal = np.maximum(asked, 0.0)[:, None]
    share = now.portion / phi * TICK
    rise = (track.ramp[runs.train] * share)[:, None]
    drop = (track.fall[runs.train] * share)[:, None]
    moved = np.where(goal > now.level, np.minimum(now.level + rise, goal), 0.0)
    moved = np.where(goal > now.level, moved, np.maximum(now.level - drop, goal))
    middle = 0.5 * (now.level + moved)
    held = track.rail(runs, now.distance, now.speed, spread)
    rest = track.resistance.at(runs.train, place) + track.grade(runs, now.distance, spread)
    decel = now.decel
    for _ in range(3):
        spin = (rotating * decel)[:, None]
        grip = np.minimum(middle - spin, held).mean(axis=1)
        decel = (phi * grip + rest) / (1.0 + (1.0 - phi) * rotating)
    spin = (rotating * decel)[:, None]
    sliding = (moved - spin > held + _SLIDE) & (moved > 0)
    now.level = np.where(sliding, np.minimum(moved, held + spin), moved)
    now.slid |= sliding.any(axis=1)
    begun = runs.react & sliding.any(axis=1) & np.isnan(now.since_slide)
    if track.notices:
        needed = now.speed**2 / (2.0 * np.maximum(now.distance, 1.0))
        built = (now.target >= 0) & (now.level.mean(axis=1) >= _BUILT * goal[:, 0])
        behind = built & (now.speed > 1.0) & (needed > track.notices * decel)
        begun |= runs.react & behind & np.isnan(now.since_slide)
    now.since_slide = np.where(begun, 0.0, now.since_slide + TICK)
    powered = (now.target < 0) & (now.phase == 1) & (now.level.max(axis=1) <= 0)
    decel = np.where(powered & (now.pending < 0), np.minimum(decel, 0.0), decel)
    _move(now, decel)


def _command(track: Track, runs: Runs, now: _State) -> None:
    """Move the handle where speed, place or a slide asks for it, and let time pass."""
    dead, last_step = track.dead_time[runs.train], track.last_step[runs.train]
    recover = (now.since_slide >= track.given.settings.reaction) & (now.phase < 9)
    late = np.where(recover, now.since_slide - track.given.settings.reaction, 0.0)
    leave = _leave_speed(track, runs, now)
    release = (now.phase == 0) & (now.speed <= leave) & np.isnan(now.since_slide)
    passed = (leave - now.speed) / np.maximum(now.decel, 1e-3)
    late = np.where(release, np.clip(passed, 0.0, TICK), late)
    # Who runs in faster than meant begins the last application sooner by what that needs.
    excess = np.where(now.level.max(axis=1) <= 0, now.speed**2 - runs.last_speed**2, 0.0)
    excess = np.maximum(excess, 0.0)
    begin = runs.last + excess / (2.0 * track.given.settings.least_deceleration)
    again = (now.phase == 1) & (now.distance <= begin) & np.isnan(now.since_slide)
    passed = (begin - now.distance) / np.maximum(now.speed, 0.1)
    late = np.where(again, np.clip(passed, 0.0, TICK), late)
    wanted = np.where(recover, last_step, 0)
    wanted = np.where(release & ~runs.ease, -1, wanted)
    change = recover | release | again
    now.applications += again & (now.target < 0)
    now.applications += recover & (now.target < 0) & (now.pending < 0)
    # A slide keeps what is applied; a handle still moving counts as moved.
    settle = change & (now.pending >= 0) & (now.timer > 0) & recover
    now.target = np.where(settle & (now.target < 0), now.pending, now.target)
    now.pending = np.where(change, wanted, now.pending)
    now.timer = np.where(change, dead - late, now.timer)
    now.phase = np.where(recover, 9, np.where(release, 1, np.where(again, 2, now.phase)))
    now.timer = now.timer - TICK
    due = (now.timer <= 0) & (now.timer > -1e8)
    now.portion = np.where(due, np.clip(-now.timer / TICK, 0.0, 1.0), 1.0)
    now.target = np.where(due, now.pending, now.target)
    now.timer = np.where(due, -1e9, now.timer)


def _leave_speed(track: Track, runs: Runs, now: _State) -> Floats:
    """Return the speed at which a driver leaves the first application. [m/s].

    He aims at the speed that is left when the force has gone. A force that has not yet
    built up takes less off while it falls, so he waits longer; he cannot leave a step
    before it has begun to act.
    """
    train, step = runs.train, np.maximum(runs.step, 0)
    ramp, fall, dead = track.ramp[train], track.fall[train], track.dead_time[train]
    place = track.force.place_of(now.speed**2)
    top = track.force.at(train * track.steps + step, place)
    low = np.where(runs.ease, track.force.at(train * track.steps, place), 0.0)
    built = track.phi[train, step] * now.level.mean(axis=1)
    peak = np.maximum(np.minimum(built + ramp * dead, top), low)
    lost = 0.5 * (built + peak) * dead + (peak**2 - low**2) / (2.0 * fall)
    full = top * dead + (top**2 - low**2) / (2.0 * fall)
    # What slides is as good as built up: the rail decides, in the curves as here.
    part = np.where(now.slid, 1.0, np.clip(lost / np.maximum(full, 1e-9), 0.0, 1.0))
    leave = runs.after_speed + part * (runs.release_speed - runs.after_speed)
    return np.where(now.target >= 0, leave, np.nan)


def _move(now: _State, decel: Floats) -> None:
    """Move the trains by one time step, to the very place where one stands."""
    later = now.speed - decel * TICK
    stands = later <= 0
    share = np.where(stands, now.speed / np.maximum(decel, 1e-9), TICK)
    share = np.minimum(share, TICK)
    mean = np.where(stands, 0.5 * now.speed, 0.5 * (now.speed + later))
    now.distance = now.distance - mean * share
    now.seconds = now.seconds + share
    now.speed = np.maximum(later, 0.0)
    now.decel = decel
    now.stop = np.where(stands, now.distance, np.nan)
