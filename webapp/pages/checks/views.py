from __future__ import annotations

from pathlib import Path

from flask import Blueprint, Response, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from webapp.pages.checks import checks, service, show
from webapp.store.db import reading
from webapp.web import stored
from webapp.web.stored import REVALIDATE, answer, reading_sheet

STYLE = reading_sheet(Path(__file__).parent / "checks.css")

blueprint = Blueprint("checks", __name__, template_folder="templates")
blueprint.add_app_template_filter(show.figure, "figure")
blueprint.add_app_template_filter(show.theirs, "theirs")
blueprint.add_app_template_filter(show.difference, "difference")


@blueprint.get("/checks")
def page() -> Response:
    """Show every check beside its source, and every number without one."""
    with reading() as session:
        lines, groups = service.assumptions(session)
    known = checks.stored()
    text = render_template("checks.html", checks=known, lines=lines, groups=groups)
    return answer(stored.page(text), REVALIDATE)


@blueprint.get("/checks/checks.css")
def style() -> Response:
    return answer(STYLE, REVALIDATE)


@blueprint.get("/trust")
def former_address() -> ResponseReturnValue:
    """Lead from the address that older builds of the app link to."""
    return redirect(url_for("checks.page"), code=308)
