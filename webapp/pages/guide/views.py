from __future__ import annotations

from pathlib import Path

from flask import Blueprint, Response, abort, render_template

from webapp.pages.guide import service
from webapp.web import stored
from webapp.web.stored import REVALIDATE, answer, reading_sheet, store

STYLE = reading_sheet(Path(__file__).parent / "guide.css")
PNGS = {
    shot.key: store(
        (service.PICTURES / f"{shot.key}.png").read_bytes(), "image/png", compress=False
    )
    for shot in service.SHOTS
    if (service.PICTURES / f"{shot.key}.png").exists()
}

blueprint = Blueprint("guide", __name__, template_folder="templates")


@blueprint.get("/guide")
def page() -> Response:
    """Show the pictures of the tablet app, each with the question it answers."""
    text = render_template("guide.html", shots=service.SHOTS)
    return answer(stored.page(text), REVALIDATE)


@blueprint.get("/guide/guide.css")
def style() -> Response:
    return answer(STYLE, REVALIDATE)


@blueprint.get("/guide/<key>.png")
def picture(key: str) -> Response:
    """Send one picture."""
    if key not in PNGS:
        abort(404)
    return answer(PNGS[key], REVALIDATE)
