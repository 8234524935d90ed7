"""How driven runs ended, and traces of them for a picture."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .model import Flags, Floats, Ints


@dataclass(frozen=True)
class Trace:
    """Every time step of every run; arrays (times, runs) or (times, runs, wheelsets).

    After its stand a run keeps its place with speed 0.

    Attributes
    ----------
    seconds : numpy.ndarray, shape (times,)
        From the brake controller's first move. [s]
    front, speed, slowing : numpy.ndarray
        [m, m/s, m/s2]
    handle, step : numpy.ndarray of int
        Where the brake controller is, and the step that acts after the dead time; -1 is off.
    brake : numpy.ndarray
        Mean brake force per unit mass. [m/s2]
    level, held : numpy.ndarray
        Brake force of each wheelset, and the rail force it could have. [m/s2]
    sliding : numpy.ndarray of bool
    """

    seconds: Floats
    front: Floats
    speed: Floats
    slowing: Floats
    handle: Ints
    step: Ints
    brake: Floats
    level: Floats
    held: Floats
    sliding: Flags


@dataclass(frozen=True)
class SlideResult:
    """The outcome; arrays (runs,) or (runs, wheelsets).

    Attributes
    ----------
    stop : numpy.ndarray
        Where the front stood; NaN if it never did. [m]
    seconds : numpy.ndarray
        From the brake controller's first move. [s]
    to_mark, to_limit : numpy.ndarray
        From the stand to mark and limit; negative: past it. [m]
    slid_metres : numpy.ndarray, shape (runs, wheelsets)
        How far each wheelset slid. [m]
    slid_from, slid_to : numpy.ndarray, shape (runs, wheelsets)
        First and last place at which it did; NaN if never. [m]
    slide_at, slide_speed : numpy.ndarray
        Front and speed at the first sign of a slide; NaN: none. [m, m/s]
    applications : numpy.ndarray of int
        Times the brake was applied from off.
    brake_work, drag_work, climb_work : numpy.ndarray
        Work per unit mass of the wheels' brakes, of running resistance and of the
        gradient; with the speed left they add up to the energy at the start. [m2/s2]
    end_speed : numpy.ndarray
        0 after a stand. [m/s]
    trace : Trace or None
    """

    stop: Floats
    seconds: Floats
    to_mark: Floats
    to_limit: Floats
    slid_metres: Floats
    slid_from: Floats
    slid_to: Floats
    slide_at: Floats
    slide_speed: Floats
    applications: Ints
    brake_work: Floats
    drag_work: Floats
    climb_work: Floats
    end_speed: Floats
    trace: Trace | None = None

    @property
    def slid(self) -> Flags:
        """Whether any wheelset slid, (runs,)."""
        return np.asarray((self.slid_metres > 0).any(axis=1))
