from __future__ import annotations

from pathlib import Path

from flask import Blueprint, Response, render_template

from webapp.db import reading
from webapp.stored import REVALIDATE, answer, store
from webapp.trust import service, show

STYLE = store((Path(__file__).parent / "trust.css").read_bytes(), "text/css; charset=utf-8")

blueprint = Blueprint("trust", __name__, template_folder="templates")
blueprint.add_app_template_filter(show.figure, "figure")
blueprint.add_app_template_filter(show.theirs, "theirs")
blueprint.add_app_template_filter(show.difference, "difference")


@blueprint.get("/trust")
def page() -> str:
    """Show every check beside its source, and every number without one."""
    with reading() as session:
        lines, groups = service.assumptions(session)
    return render_template("trust.html", checks=service.stored(), lines=lines, groups=groups)


@blueprint.get("/trust/trust.css")
def style() -> Response:
    return answer(STYLE, REVALIDATE)
