from __future__ import annotations

from pathlib import Path

from flask import Blueprint, Response, render_template

from webapp.pages.lessons import service
from webapp.web import stored
from webapp.web.stored import DRAWING, REVALIDATE, answer, reading_sheet

STYLE = reading_sheet(DRAWING, Path(__file__).parent / "lessons.css")

blueprint = Blueprint("lessons", __name__, template_folder="templates")


@blueprint.get("/lessons")
def page() -> Response:
    """Show the same stop taken twice, and disc brakes beside tread brakes."""
    text = render_template("lessons.html", page=service.page())
    return answer(stored.page(text), REVALIDATE)


@blueprint.get("/lessons/lessons.css")
def style() -> Response:
    return answer(STYLE, REVALIDATE)
