from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from flask import Blueprint, Response, render_template

from webapp.pages.lessons import kept, picture, show
from webapp.pages.lessons.kept import Approach, Lessons
from webapp.plain.drawing import Picture
from webapp.web import stored
from webapp.web.stored import DRAWING, REVALIDATE, answer, reading_sheet

STYLE = reading_sheet(DRAWING, Path(__file__).parent / "lessons.css")

blueprint = Blueprint("lessons", __name__, template_folder="templates")


@blueprint.get("/lessons")
def page() -> Response:
    """Show the same stop taken twice, and disc brakes beside tread brakes."""
    text = render_template("lessons.html", page=shown())
    return answer(stored.page(text), REVALIDATE)


@blueprint.get("/lessons/lessons.css")
def style() -> Response:
    return answer(STYLE, REVALIDATE)


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


def shown() -> Page:
    """Return the page of the lessons that came with this version."""
    lessons = kept.stored()
    return Page(
        lessons=lessons,
        told=tuple((one, show.facts(one, lessons.scene)) for one in lessons.approaches),
        approaches=picture.approaches(lessons),
        stops=picture.stops(lessons.brakes),
        widest=show.widest(lessons.brakes),
    )
