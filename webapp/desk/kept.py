from __future__ import annotations

from datetime import UTC, datetime

from flask import Blueprint, current_app, redirect, render_template, request, url_for
from flask_wtf import FlaskForm
from werkzeug.wrappers import Response
from wtforms import BooleanField
from wtforms.validators import DataRequired

from webapp.records import privacy
from webapp.records.holdings import HOLDINGS
from webapp.store.db import reading, writing
from webapp.web.access import needs, who

blueprint = Blueprint("privacy", __name__, template_folder="templates")
LARGEST = 2**63 - 1


class Sure(FlaskForm):  # type: ignore[misc]
    sure = BooleanField("Delete it for good", [DataRequired("Tick this if it is to go.")])


@blueprint.get("/desk/kept")
@needs("look")
def kept() -> str:
    """Say what is kept how long, and what the next tidy would delete."""
    rules = privacy.Rules.of(current_app.config)
    with reading() as session:
        due = privacy.due(session, rules, datetime.now(UTC))
    return render_template("kept.html", holdings=HOLDINGS, rules=rules, due=due)


@blueprint.get("/desk/kept/report")
@needs("people")
def report() -> str | tuple[str, int]:
    """Show what of a person one report holds."""
    return _page(request.args.get("number", "").strip(), Sure(formdata=None))


@blueprint.post("/desk/kept/report")
@needs("people")
def anonymise() -> str | Response | tuple[str, int]:
    """Take the person out of a report and its corrections."""
    number, form = request.form.get("number", "").strip(), Sure()
    if not form.validate():
        return _page(number, form, "Tick the box if it is to go.")
    try:
        with writing() as session:
            found = privacy.held(session, _number(number))
            if found:
                privacy.anonymise(session, found, who(), datetime.now(UTC))
    except privacy.StillNeeded as error:
        return _page(number, form, str(error))
    return redirect(url_for("privacy.report", number=number))


def _page(number: str, form: Sure, fault: str = "") -> str | tuple[str, int]:
    with reading() as session:
        found = privacy.held(session, _number(number)) if number else None
    if number and found is None:
        fault = "No report has this number. It is in front of each report in the list."
    page = render_template(
        "kept-report.html", number=number, found=found, form=form, fault=fault
    )
    return (page, 422) if fault else page


def _number(text: str) -> int:
    """Read a report's number; what is none is a number that no report has."""
    good = text.isascii() and text.isdigit() and len(text) < 20
    return min(int(text), LARGEST) if good else -1
