"""What is written down while runs are driven."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .handle import Hand
from .model import Flags, Floats, SlideRuns, SlideTrain
from .now import Now
from .result import SlideResult, Trace


@dataclass
class Slid:
    """Where each wheelset of a batch slid, (runs, wheelsets). [m]."""

    metres: Floats
    first: Floats
    last: Floats

    def take(self, where: Flags) -> Slid:
        """Return some of the runs."""
        return Slid(self.metres[where], self.first[where], self.last[where])

    def add(self, sliding: Flags, metres: Floats, place: Floats) -> None:
        """Add one time step."""
        np.copyto(self.first, place, where=sliding & (self.metres == 0.0))
        np.copyto(self.last, place, where=sliding)
        self.metres += sliding * metres[:, None]


def nothing_slid(runs: int, wheelsets: int) -> Slid:
    """Return the places of runs that have not slid."""
    wide = (runs, wheelsets)
    return Slid(np.zeros(wide), np.zeros(wide), np.zeros(wide))


@dataclass(frozen=True)
class Ticked:
    """One time step of a batch as it came out; arrays (runs,) or (runs, wheelsets).

    Attributes
    ----------
    now : Now
    hand : Hand
    slid : Slid
    tick : float
        Length of the step. [s]
    share : numpy.ndarray
        The part of it that each run moved. [s]
    level, held : numpy.ndarray
        Brake force of each wheelset, and the rail force it could have. [m/s2]
    sliding : numpy.ndarray of bool
    metres, drag, climb : numpy.ndarray
        Way, and what resistance and gradient took off. [m, m/s2, m/s2]
    """

    now: Now
    hand: Hand
    slid: Slid
    tick: float
    share: Floats
    level: Floats
    sliding: Flags
    held: Floats
    metres: Floats
    drag: Floats
    climb: Floats


class Record:
    """Results of all runs, filled in batch by batch; and a trace where asked for."""

    def __init__(self, runs: SlideRuns, train: SlideTrain, tracing: bool) -> None:
        count, wide = runs.speed.size, (runs.speed.size, train.wheelsets)
        self.train, self.tracing = train, tracing
        self.front, self.speed = runs.start.copy(), runs.speed.copy()
        self.seconds = np.zeros(count)
        self.metres = np.zeros(wide)
        self.first, self.last = np.full(wide, np.nan), np.full(wide, np.nan)
        self.slide_at, self.slide_speed = np.full(count, np.nan), np.full(count, np.nan)
        self.applications = np.ones(count, dtype=np.int64)
        self.brake, self.drag, self.climb = np.zeros(count), np.zeros(count), np.zeros(count)
        self._rows: list[tuple[object, ...]] = []

    def first_sign(self, now: Now, new: Flags) -> None:
        """Write down where the first wheelset of a run began to slide."""
        if new.any():
            self.slide_at[now.live[new]] = now.front[new]
            self.slide_speed[now.live[new]] = now.speed[new]

    def tick(self, step: Ticked) -> None:
        """Write down one time step."""
        now, metres = step.now, step.metres
        self.seconds[now.live] += step.share
        work = (now.slowing - step.drag - step.climb) * metres
        self.brake[now.live] += work + self.train.base.rotating * now.slowing * metres
        self.drag[now.live] += step.drag * metres
        self.climb[now.live] += step.climb * metres
        if step.sliding.any():
            place = now.front[:, None] - self.train.offsets
            step.slid.add(step.sliding, metres, place)
        if self.tracing:
            self._trace(step)

    def _trace(self, step: Ticked) -> None:
        now = step.now
        row = (
            step.tick,
            now.front,
            now.speed,
            now.slowing,
            step.hand.step,
            now.step,
            step.level.mean(axis=1),
            step.level,
            np.broadcast_to(step.held, step.level.shape),
            step.sliding,
        )
        self._rows.append(tuple(np.copy(value) for value in row))

    def finish(self, now: Now, hand: Hand, slid: Slid) -> None:
        """Write down where runs are, and where they slid."""
        self.metres[now.live] = slid.metres
        self.first[now.live] = np.where(slid.metres > 0, slid.first, np.nan)
        self.last[now.live] = np.where(slid.metres > 0, slid.last, np.nan)
        self.front[now.live] = now.front
        self.speed[now.live] = now.speed
        self.applications[now.live] = hand.applications

    def result(self, runs: SlideRuns) -> SlideResult:
        """Return all that was written down."""
        stop = np.where(self.speed <= 0, self.front, np.nan)
        return SlideResult(
            stop=stop,
            seconds=self.seconds,
            to_mark=runs.mark - stop,
            to_limit=runs.limit - stop,
            slid_metres=self.metres,
            slid_from=self.first,
            slid_to=self.last,
            slide_at=self.slide_at,
            slide_speed=self.slide_speed,
            applications=self.applications,
            brake_work=self.brake,
            drag_work=self.drag,
            climb_work=self.climb,
            end_speed=self.speed,
            trace=self._whole_trace() if self.tracing else None,
        )

    def _whole_trace(self) -> Trace:
        ticks, *rest = (np.stack(column) for column in zip(*self._rows, strict=True))
        return Trace(np.cumsum(ticks), *rest)
