"""The two lessons: the same stop in the first light rain, taken twice.

The scene is data; every figure of the outcome is computed. Where the brake is begun is
worked out too: the usual approach from where the usual step stops at the mark on dry
rail, the softer one from where the lightest step does on the rail that is there.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..constants import MPH
from ..model import Line
from .handlings import LIGHTEST, USUAL, Handling, orders_of
from .model import Rail, SlideRuns, SlideTrain, even_rail, patch
from .result import SlideResult
from .run import simulate

#: As good as dry for every step [-].
_FREE = 1.0
#: A usual brake point a driver knows by heart is not kept to the centimetre [m].
_ROUND = 5.0
#: What the driver of the first lesson does, and of the second; times are assumptions.
_USUAL = Handling(
    "usual step, fanned, emergency late",
    after=2.0,
    fan_period=4.0,
    fan_share=0.4,
    emergency_before=60.0,
)
_SOFTER = Handling("sooner and softer", step=LIGHTEST)


@dataclass(frozen=True)
class Scene:
    """One stop after dry weeks, in the first light rain.

    Attributes
    ----------
    speed : float
        [m/s]
    mark, platform_end : float
        The platform ends beyond the mark. [m]
    before : float
        Adhesion under trees and bridges, where no rain has fallen yet. [-]
    wet_from, wet : float
        Where the line comes into the open, and adhesion from there on: the rain has
        made a film of what lay on the rail. [m, -]
    usual, softer : Handling
        What the driver does in each lesson.

    Notes
    -----
    Demo data of our own. The adhesion is an assumption inside the bands of
    `demo_routes`: first rain makes a film as slippery as leaves.
    """

    speed: float = 60.0 * MPH
    mark: float = 3_000.0
    platform_end: float = 3_040.0
    before: float = 0.12
    wet_from: float = 2_800.0
    wet: float = 0.05
    usual: Handling = _USUAL
    softer: Handling = _SOFTER


@dataclass(frozen=True)
class Lesson:
    """One approach of the scene as it came out.

    Attributes
    ----------
    name : str
    brake_before : float
        Where the brake controller moved, before the mark. [m]
    past_mark, past_platform : float
        Of the front at the stand; negative: short of it. [m]
    off_platform : float
        Length of train beyond the platform. [m]
    slid_metres : float
        Of the wheelset that slid farthest. [m]
    step_in_hand : bool
        Whether a heavier service step was still unused at the stand.
    result : SlideResult
        Of this one run, with its trace.
    """

    name: str
    brake_before: float
    past_mark: float
    past_platform: float
    off_platform: float
    slid_metres: float
    step_in_hand: bool
    result: SlideResult


def first_rain(train: SlideTrain, line: Line, scene: Scene) -> tuple[Lesson, Lesson]:
    """Drive both lessons: as usual, and sooner and softer.

    Raises
    ------
    ValueError
        If the platform ends before the mark, or a figure could not be.
    """
    if not scene.mark <= scene.platform_end:
        raise ValueError("scene: the platform must not end before the stop mark")
    rail = even_rail(
        scene.before, 1, (patch(scene.wet_from, scene.platform_end + 5e3, scene.wet, 1),)
    )
    dry = even_rail(_FREE, 1)
    return (
        _lesson(train, line, scene, scene.usual, rail, begun_for=(USUAL, dry)),
        _lesson(train, line, scene, scene.softer, rail, begun_for=(LIGHTEST, rail)),
    )


def brake_point(train: SlideTrain, line: Line, rail: Rail, step: str, scene: Scene) -> float:
    """Return how far before the mark a step must be taken to stop there. [m].

    Gradient and rail change along the way, so the place is found by driving: three
    times, each from where the one before would have needed. Rounded outward.
    """
    before = 1_000.0
    for _ in range(8):
        runs = _run(train, scene, Handling("trial", step=step), before)
        lacks = -float(simulate(train, line, rail, runs).to_mark[0])
        before += lacks
        if abs(lacks) < 0.1:
            break
    return float(np.ceil(before / _ROUND) * _ROUND)


def _lesson(
    train: SlideTrain,
    line: Line,
    scene: Scene,
    handling: Handling,
    rail: Rail,
    begun_for: tuple[str, Rail],
) -> Lesson:
    before = brake_point(train, line, begun_for[1], begun_for[0], scene)
    runs = _run(train, scene, handling, before)
    result = simulate(train, line, rail, runs, trace=True)
    stop = float(result.stop[0])
    past = stop - scene.platform_end
    trace = result.trace
    used = int(trace.step.max()) if trace is not None else 0
    return Lesson(
        name=handling.name,
        brake_before=before,
        past_mark=stop - scene.mark,
        past_platform=past,
        off_platform=float(np.clip(past, 0.0, train.base.length)),
        slid_metres=float(result.slid_metres.max()),
        step_in_hand=used < train.highest,
        result=result,
    )


def _run(train: SlideTrain, scene: Scene, handling: Handling, before: float) -> SlideRuns:
    one = np.ones(1)
    return SlideRuns(
        speed=scene.speed * one,
        start=(scene.mark - before) * one,
        mark=scene.mark * one,
        limit=scene.platform_end * one,
        applied=np.zeros(1, dtype=bool),
        orders=orders_of(handling, train, scene.mark * one),
    )
