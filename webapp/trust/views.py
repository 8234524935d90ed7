from __future__ import annotations

from pathlib import Path

from flask import Blueprint, Response, render_template

from webapp.db import reading
from webapp.stored import REVALIDATE, answer, reading_sheet
from webapp.trust import service, show

STYLE = reading_sheet(Path(__file__).parent / "trust.css")

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
