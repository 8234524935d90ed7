"""The drawings of the lessons: both approaches, and the stops of every brake."""

from __future__ import annotations

import math

from webapp.pages.lessons.kept import Brakes, Lessons, State
from webapp.plain.drawing import STROKES, Frame, Picture, Stroke


def approaches(lessons: Lessons) -> Picture:
    """Draw both approaches of the lesson over metres from the stop mark."""
    scene = lessons.scene
    first = -100 * math.ceil(max(one.brake_before_m for one in lessons.approaches) / 100 + 1)
    last = max(scene.platform_end_m, *(one.past_mark_m for one in lessons.approaches)) + 40
    frame = Frame((first, last), scene.speed_mph)
    strokes = tuple(
        Stroke(
            one.name,
            kind,
            frame.line([(first, scene.speed_mph), *one.curve]),
            one.slide_at and (frame.x(one.slide_at[0]), frame.y(one.slide_at[1])),
        )
        for one, kind in zip(lessons.approaches, STROKES, strict=False)
    )
    stands = "; ".join(
        f"{one.name}: brake begun {one.brake_before_m} m before the mark, "
        f"front {abs(one.past_mark_m)} m {'past' if one.past_mark_m > 0 else 'short of'} it"
        for one in lessons.approaches
    )
    return Picture(
        key="approaches",
        title="Speed on both approaches",
        text=f"Speed in mph falling over metres from the stop mark. {stands}.",
        across="metres from the stop mark",
        strokes=strokes,
        x_ticks=frame.x_ticks(400),
        y_ticks=frame.y_ticks(20),
        # The rear of a train at the mark is taken to be where the platform begins.
        platform=(frame.x(-scene.length_m), frame.x(scene.platform_end_m)),
        wet_from=frame.x(scene.wet_from_m),
    )


def stops(brakes: Brakes) -> tuple[Picture, ...]:
    """Draw the stops of every brake, one small drawing a rail state, all to one scale."""
    longest = max(m for s in brakes.states for curve in s.curves for m, _ in curve)
    frame = Frame((0, 500 * math.ceil(longest / 500)), brakes.curve_mph)
    return tuple(_stop(brakes, state, frame) for state in brakes.states)


def _stop(brakes: Brakes, state: State, frame: Frame) -> Picture:
    ends = "; ".join(
        f"{name} {curve[-1][0]:,} m"
        for name, curve in zip(brakes.names, state.curves, strict=True)
    )
    return Picture(
        key="stop-" + state.name.replace(" ", "-"),
        title=f"{state.name.capitalize()}: stops from {brakes.curve_mph} mph",
        text=f"Speed in mph over the metres after the controller moves. Stands: {ends}.",
        across="metres after the controller moves",
        strokes=tuple(
            Stroke(name, kind, frame.line(curve))
            for name, kind, curve in zip(brakes.names, STROKES, state.curves, strict=True)
        ),
        x_ticks=frame.x_ticks(500),
        y_ticks=frame.y_ticks(20),
    )
