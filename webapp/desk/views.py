from __future__ import annotations

from pathlib import Path

from flask import Blueprint, Response, redirect, url_for
from werkzeug.wrappers import Response as AnyResponse

from webapp.access import needs, open_to_all
from webapp.stored import REVALIDATE, answer, store

STYLE = store((Path(__file__).parent / "desk.css").read_bytes(), "text/css; charset=utf-8")

blueprint = Blueprint("desk", __name__, template_folder="templates")


@blueprint.get("/desk")
@needs("look")
def front() -> AnyResponse:
    return redirect(url_for("reports.newest"))


@blueprint.get("/desk/desk.css")
@open_to_all
def style() -> Response:
    return answer(STYLE, REVALIDATE)
