"""The desk's page of tablets."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime

import segno
from flask import Blueprint, redirect, render_template, url_for
from flask_wtf import FlaskForm
from markupsafe import Markup
from werkzeug.wrappers import Response
from wtforms import StringField
from wtforms.validators import DataRequired, Length

from webapp import codes
from webapp.access import needs, who
from webapp.db import reading, writing
from webapp.tablets import service

blueprint = Blueprint("tablet_list", __name__, template_folder="templates")


class NewTablet(FlaskForm):  # type: ignore[misc]
    label = StringField(
        "Name of the tablet, not of a driver",
        [DataRequired("Fill this in."), Length(max=60, message="At most 60 characters.")],
    )


@blueprint.get("/desk/tablets")
@needs("look")
def everyone() -> str:
    """List the tablets: which are enrolled, when each was last heard."""
    return _page(NewTablet())


@blueprint.post("/desk/tablets")
@needs("review")
def code() -> str | tuple[str, int]:
    """Make a code for one tablet; it is shown once, as letters and as a picture to scan."""
    form = NewTablet()
    if not form.validate():
        return _page(form), 422
    with writing() as session:
        made = service.make_code(session, form.label.data.strip(), who(), datetime.now(UTC))
    picture = segno.make(made, error="m", micro=False)
    drawn = Markup(picture.svg_inline(scale=6, dark="#000", light="#fff"))
    return render_template(
        "enrol-code.html",
        code=codes.shown(made),
        label=form.label.data.strip(),
        picture=drawn,
        minutes=int(service.CODE_LIVES.total_seconds() // 60),
    )


@blueprint.post("/desk/tablets/<uuid:device_id>/revoke")
@needs("review")
def revoke(device_id: uuid.UUID) -> Response:
    """Take a tablet's right away: what it still sends is kept apart."""
    with writing() as session:
        service.revoke(session, device_id, datetime.now(UTC), who())
    return redirect(url_for("tablet_list.everyone"))


def _page(form: NewTablet) -> str:
    with reading() as session:
        tablets = service.everyone(session)
    return render_template("tablets.html", tablets=tablets, form=form)
