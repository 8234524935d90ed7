from __future__ import annotations

import uuid
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from flask import Blueprint, current_app, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from webapp.access import needs, who
from webapp.control import service
from webapp.control.forms import Barred, Inspected
from webapp.db import reading, writing
from webapp.not_enrolled import service as strangers
from webapp.problem import Problem
from webapp.restrictions import service as restrictions

blueprint = Blueprint("control", __name__, template_folder="templates")
Page = str | Response | tuple[str, int]


@blueprint.get("/desk/control")
@needs("look")
def page() -> str:
    """Show what control needs at a glance; it changes nothing and prints on paper."""
    now, line = datetime.now(UTC), request.args.get("line")
    day = now.astimezone(ZoneInfo(current_app.config["DESK_ZONE"])).date()
    with reading() as session:
        known = service.lines(session)
        return render_template(
            "control.html",
            now=now,
            zone=current_app.config["DESK_ZONE"],
            lines={key: known.name(key) for key in known.bases},
            live=service.live(session, now, known),
            bars=service.bars(session, known),
            known=known,
            restrictions=restrictions.live(session, now),
            wheels=service.wheels(session, now),
            apart=strangers.waiting(session),
            allowances=service.allowances(session, line, day),
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
            service.inspected(session, report_id, said, who(), now)
    except service.NoSuchRow as error:
        raise Problem(404, "no_such_report", str(error)) from error
    return redirect(url_for("control.fleet"))


@blueprint.route("/desk/barred", methods=["GET", "POST"])
@needs("publish")
def barred() -> Page:
    """Note which trains may not go somewhere."""
    form = Barred()
    with reading() as session:
        known = service.lines(session)
        bars = service.bars(session, known)
    form.line_key.choices = [(key, known.name(key)) for key in known.bases]
    if not form.validate_on_submit():
        text = render_template("barred.html", form=form, bars=bars)
        return (text, 422) if form.is_submitted() else text
    said = {name: field.strip() for name, field in form.data.items() if name != "csrf_token"}
    with writing() as session:
        service.bar(session, said, who(), datetime.now(UTC))
    return redirect(url_for("control.barred"))


@blueprint.post("/desk/barred/<uuid:bar_id>/end")
@needs("publish")
def unbar(bar_id: uuid.UUID) -> Response:
    """End such a rule."""
    try:
        with writing() as session:
            service.unbar(session, bar_id, who(), datetime.now(UTC))
    except service.NoSuchRow as error:
        raise Problem(409, "ended_already", str(error)) from error
    return redirect(url_for("control.barred"))


def _fleet(form: Inspected, at: uuid.UUID | None) -> Page:
    now = datetime.now(UTC)
    # Inside: behind the transaction every row would be read again, one by one.
    with reading() as session:
        text = render_template(
            "fleet.html",
            wheels=service.wheels(session, now),
            apart=strangers.waiting(session),
            form=form,
            at=at,
            now=now,
            zone=current_app.config["DESK_ZONE"],
        )
    return text if at is None else (text, 422)
