"""What the page of lessons shows: kept figures and their drawings."""

from __future__ import annotations

from dataclasses import dataclass

from webapp.pages.lessons import picture, show
from webapp.pages.lessons.kept import Approach, Lessons, stored
from webapp.plain.drawing import Picture

#: W4 of the fixed words, exact.
SLIDE_WORDS = "Sliding: hold the brake. Not slowing as it should: EMERGENCY, hold to a stand."


@dataclass(frozen=True)
class Page:
    """Everything in the order it is read."""

    lessons: Lessons
    told: tuple[tuple[Approach, list[tuple[str, str]]], ...]
    approaches: Picture
    stops: tuple[Picture, ...]
    widest: int
    slide_words: str = SLIDE_WORDS


def page() -> Page:
    """Return the page of the lessons that came with this version."""
    lessons = stored()
    return Page(
        lessons=lessons,
        told=tuple((one, show.facts(one, lessons.scene)) for one in lessons.approaches),
        approaches=picture.approaches(lessons),
        stops=picture.stops(lessons.brakes),
        widest=show.widest(lessons.brakes),
    )
