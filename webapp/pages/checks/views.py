from __future__ import annotations

from pathlib import Path

from flask import Blueprint, Response, redirect, render_template, url_for
from flask.typing import ResponseReturnValue
from sqlalchemy.orm import Session

from webapp.lines import in_use
from webapp.pages.checks import checks, show
from webapp.pages.checks.assumptions import Group, grouped, of_the_program
from webapp.publish import service as publish
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
        lines, groups = assumptions(session)
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


def assumptions(session: Session) -> tuple[list[str], list[Group]]:
    """Return the published lines, and every number without a source in their packs."""
    routes = publish.current(session).routes
    bases = [in_use.base(session, str(route["pack"])) for route in routes]
    return [base.name for base in bases], grouped(bases) + of_the_program()
