"""Drive both lessons and stop both units again, with demo data of our own."""

from __future__ import annotations

import numpy as np

from calc.constants import GRAVITY, MPH
from calc.model import BrakeStep, Line, RailState, Train
from calc.slide import SlideTrain
from calc.slide.compare import Comparison, compare_brakes
from calc.slide.lessons import Lesson, first_rain
from calc.slide.lessons import Scene as DrivenScene
from webapp.pages.lessons.kept import Approach, Brakes, Lessons, Scene, State

SPEEDS_MPH = (20, 40, 60, 75)
CURVE_MPH = 60
#: Adhesion as the demo lines plan with it; the slick is not used here.
STATES = (
    RailState("dry", 0.15, 0.05),
    RailState("damp", 0.07, 0.03),
    RailState("leaf film", 0.04, 0.02),
    RailState("very low", 0.02, 0.01),
)
#: Spacing of a lesson's curve: fine beside one period of fanning [m].
_EVERY = 10
#: Which of a comparison's 101 points are kept: all near the stand, where it bends most.
_KEEP = [*range(0, 96, 4), *range(96, 101)]


def demo_train() -> SlideTrain:
    """Return an invented four-car unit; every figure is an assumption.

    Weights, steps and resistance are those of the demo lines' disc-braked unit; its
    emergency brake of 12 %g is not in them.
    """
    steps = tuple(
        BrakeStep(f"step {number}", (0.0,), (0.03 * number * GRAVITY,)) for number in (1, 2, 3)
    )
    base = Train(
        key="disc-4",
        length=80.0,
        mass=160_000.0,
        rotating=0.08,
        resistance=(3_200.0, 120.0, 6.5),
        steps=steps,
        usual_step=1,
        dead_time=0.4,
        ramp=0.5,
        release_ramp=0.5,
        max_speed=75 * MPH,
        acceleration=0.9,
    )
    emergency = BrakeStep("emergency", (0.0,), (0.12 * GRAVITY,))
    return SlideTrain(base, wheelsets=16, emergency=emergency)


def level_line() -> Line:
    """Return a level line without speed restrictions below the train's own."""
    return Line(
        gradient_from=(-20_000.0,),
        gradient=(0.0,),
        limit_from=(-20_000.0,),
        limit_speed=(75 * MPH,),
        end=20_000.0,
    )


def run() -> Lessons:
    """Work everything out."""
    train, scene = demo_train(), DrivenScene()
    lessons = first_rain(train, level_line(), scene)
    return Lessons(
        scene=_scene(train, scene),
        approaches=tuple(_approach(one, scene) for one in lessons),
        brakes=_brakes(train),
    )


def _scene(train: SlideTrain, scene: DrivenScene) -> Scene:
    return Scene(
        speed_mph=round(scene.speed / MPH),
        usual_step=train.steps[train.base.usual_step].name,
        lightest_step=train.steps[0].name,
        before=scene.before,
        wet_from_m=round(scene.wet_from - scene.mark),
        wet=scene.wet,
        platform_end_m=round(scene.platform_end - scene.mark),
        emergency_before_m=round(scene.usual.emergency_before or 0.0),
        length_m=round(train.base.length),
    )


def _approach(lesson: Lesson, scene: DrivenScene) -> Approach:
    result = lesson.result
    if result.trace is None or not np.isfinite(result.stop[0]):
        raise ValueError(f"lesson {lesson.name!r}: the train never stood")
    begin = scene.mark - lesson.brake_before
    front = np.concatenate([[begin], result.trace.front[:, 0]])
    speed = np.concatenate([[scene.speed], result.trace.speed[:, 0]])
    stand = round(float(result.stop[0]) - scene.mark)
    where = [*range(-round(lesson.brake_before), stand, _EVERY), stand]
    curve = [(at, _mph(np.interp(scene.mark + at, front, speed))) for at in where[:-1]]
    slid = np.isfinite(result.slide_at[0])
    return Approach(
        name=lesson.name,
        brake_before_m=round(lesson.brake_before),
        past_mark_m=stand,
        off_platform_m=round(lesson.off_platform),
        slid_m=round(lesson.slid_metres),
        applications=int(result.applications[0]),
        step_in_hand=lesson.step_in_hand,
        slide_at=(
            (round(float(result.slide_at[0]) - scene.mark), _mph(result.slide_speed[0]))
            if slid
            else None
        ),
        curve=(*curve, (stand, 0.0)),
    )


def _brakes(train: SlideTrain) -> Brakes:
    step = train.base.usual_step
    found = compare_brakes(train, step, STATES, np.array(SPEEDS_MPH) * MPH)
    if not np.all(np.isfinite(found.metres)):
        raise ValueError("comparison: a train never stood")
    return Brakes(
        step=train.steps[step].name,
        names=found.brakes,
        speeds_mph=SPEEDS_MPH,
        curve_mph=CURVE_MPH,
        states=tuple(_state(found, at, state) for at, state in enumerate(STATES)),
    )


def _state(found: Comparison, at: int, state: RailState) -> State:
    return State(
        name=state.key,
        adhesion=state.plan,
        metres=tuple(tuple(round(float(m)) for m in row) for row in found.metres[:, at]),
        slid=tuple(tuple(bool(s) for s in row) for row in found.slid[:, at]),
        curves=tuple(_curve(found, brake, at) for brake in range(len(found.brakes))),
    )


def _curve(found: Comparison, brake: int, state: int) -> tuple[tuple[int, float], ...]:
    case = (brake, state, SPEEDS_MPH.index(CURVE_MPH))
    speeds = found.curve[case]
    way = np.linspace(0.0, float(found.metres[case]), speeds.size)
    return tuple(
        (round(float(at)), _mph(speed))
        for at, speed in zip(way[_KEEP], speeds[_KEEP], strict=True)
    )


def _mph(speed: float) -> float:
    return round(float(speed) / MPH, 1)
