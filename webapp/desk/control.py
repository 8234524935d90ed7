from __future__ import annotations

import uuid
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from flask import Blueprint, current_app, redirect, render_template, request, url_for
from flask_wtf import FlaskForm
from werkzeug.wrappers import Response
from wtforms import SelectField, StringField

from webapp.records import control
from webapp.records import not_enrolled as strangers
from webapp.records.restrictions import service as restrictions
from webapp.store.db import reading, writing
from webapp.web.access import needs, who
from webapp.web.forms import NEEDED, short
from webapp.web.problem import Problem

blueprint = Blueprint("control", __name__, template_folder="templates")
Page = str | Response | tuple[str, int]


@blueprint.get("/desk/control")
@needs("look")
def page() -> str:
    """Show what control needs at a glance; it changes nothing and prints on paper."""
    now, line = datetime.now(UTC), request.args.get("line")
    day = now.astimezone(ZoneInfo(current_app.config["DESK_ZONE"])).date()
    with reading() as session:
        known = control.lines(session)
        return render_template(
            "control.html",
            now=now,
            zone=current_app.config["DESK_ZONE"],
            lines={key: known.name(key) for key in known.bases},
            live=control.live(session, now, known),
            bars=control.bars(session, known),
            known=known,
            restrictions=restrictions.live(session, now),
            wheels=control.wheels(session, now),
            apart=strangers.waiting(session),
            allowances=control.allowances(session, line, day),
        )


@blueprint.get("/desk/fleet")
@needs("look")
def fleet() -> Page:
    """List the trains whose drivers suspect wheel flats."""
    return _fleet(Inspected(), None)


@blueprint.post("/desk/fleet/<uuid:report_id>")
@needs("review")
def inspected(report_id: uuid.UUID) -> Page:
    """Note who looked at the wheels and what was found."""
    form, now = Inspected(), datetime.now(UTC)
    if not form.validate():
        return _fleet(form, report_id)
    said = {"inspected_by": form.inspected_by.data.strip(), "inspected_at": now}
    said["result"] = form.result.data.strip()
    try:
        with writing() as session:
            control.inspected(session, report_id, said, who(), now)
    except control.NoSuchRow as error:
        raise Problem(404, "no_such_report", str(error)) from error
    return redirect(url_for("control.fleet"))


@blueprint.route("/desk/barred", methods=["GET", "POST"])
@needs("publish")
def barred() -> Page:
    """Note which trains may not go somewhere."""
    form = Barred()
    with reading() as session:
        known = control.lines(session)
        bars = control.bars(session, known)
    form.line_key.choices = [(key, known.name(key)) for key in known.bases]
    if not form.validate_on_submit():
        text = render_template("barred.html", form=form, bars=bars)
        return (text, 422) if form.is_submitted() else text
    said = {name: field.strip() for name, field in form.data.items() if name != "csrf_token"}
    with writing() as session:
        control.bar(session, said, who(), datetime.now(UTC))
    return redirect(url_for("control.barred"))


@blueprint.post("/desk/barred/<uuid:bar_id>/end")
@needs("publish")
def unbar(bar_id: uuid.UUID) -> Response:
    """End such a rule."""
    try:
        with writing() as session:
            control.unbar(session, bar_id, who(), datetime.now(UTC))
    except control.NoSuchRow as error:
        raise Problem(409, "ended_already", str(error)) from error
    return redirect(url_for("control.barred"))


def _fleet(form: Inspected, at: uuid.UUID | None) -> Page:
    now = datetime.now(UTC)
    # Inside: behind the transaction every row would be read again, one by one.
    with reading() as session:
        text = render_template(
            "fleet.html",
            wheels=control.wheels(session, now),
            apart=strangers.waiting(session),
            form=form,
            at=at,
            now=now,
            zone=current_app.config["DESK_ZONE"],
        )
    return text if at is None else (text, 422)


class Inspected(FlaskForm):  # type: ignore[misc]
    inspected_by = StringField("Inspected by", [NEEDED, short(120)])
    result = StringField("Found", [NEEDED, short(200)])


class Barred(FlaskForm):  # type: ignore[misc]
    line_key = SelectField("Line")
    place = StringField("Where", [NEEDED, short(120)])
    trains = StringField("Which trains", [NEEDED, short(120)])
    reason = StringField("Why", [NEEDED, short(200)])
    decided_by = StringField("Decided by", [NEEDED, short(120)])
