"""The lessons in words and tables: for the terminal and, fact by fact, for the page."""

from __future__ import annotations

from collections.abc import Iterator

from webapp.pages.lessons.kept import Approach, Brakes, Lessons, Scene


def facts(one: Approach, scene: Scene) -> list[tuple[str, str]]:
    """Return the outcomes of one approach, each with what it is called."""
    return [
        ("Brake begun", f"{one.brake_before_m:,} m before the mark"),
        ("Front at the stand", _stand(one.past_mark_m)),
        ("Off the platform", _off(one.off_platform_m, scene.length_m)),
        ("Wheels slid", f"for {one.slid_m:,} m" if one.slid_m else "none; WSP silent"),
        ("Brake applied", "once" if one.applications == 1 else f"{one.applications} times"),
        ("A step in hand at the stand", "yes" if one.step_in_hand else "no"),
    ]


def widest(brakes: Brakes) -> int:
    """Return the largest difference from the disc unit on the worst rail, in % up."""
    disc, *others = brakes.states[-1].metres
    gaps = [abs(m - d) / d for row in others for m, d in zip(row, disc, strict=True)]
    return int(-(-100 * max(gaps) // 1))


def lines(lessons: Lessons) -> Iterator[str]:
    """Set both out as text."""
    scene, brakes = lessons.scene, lessons.brakes
    yield (
        f"Two lessons: {scene.speed_mph} mph, a level line, adhesion {scene.before} and "
        f"from {-scene.wet_from_m} m before the mark {scene.wet}; "
        f"the platform ends {scene.platform_end_m} m past it."
    )
    for one in lessons.approaches:
        yield ""
        yield one.name.capitalize()
        for what, value in facts(one, scene):
            yield f"  {what:<28}{value}"
    yield ""
    yield f"Two brakes: metres from the controller's move to the stand, {brakes.step}, level."
    yield "  s: wheels slid"
    for state in brakes.states:
        yield ""
        yield f"{state.name.capitalize()}, adhesion {state.adhesion}"
        yield "  mph " + "".join(f"{name:>16}" for name in brakes.names)
        for at, speed in enumerate(brakes.speeds_mph):
            cells = zip(state.metres, state.slid, strict=True)
            yield f"  {speed:<4}" + "".join(
                f"{metres[at]:>14,}{' s' if slid[at] else '  '}" for metres, slid in cells
            )
    yield ""
    yield "Model estimates with demo data of our own, not a promise for any train."


def _stand(past: int) -> str:
    if past == 0:
        return "at the mark"
    return f"{past:,} m past the mark" if past > 0 else f"{-past:,} m short of the mark"


def _off(metres: int, length: int) -> str:
    return f"{metres:,} m of {length:,} m of train" if metres else "nothing"
