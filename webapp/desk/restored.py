from __future__ import annotations

from datetime import UTC, datetime

from flask import Blueprint, redirect, render_template, url_for
from flask_wtf import FlaskForm
from werkzeug.wrappers import Response
from wtforms import BooleanField, StringField
from wtforms.validators import DataRequired

from webapp.publish.declared import declare
from webapp.records import tablets
from webapp.records.warnings import service as warnings
from webapp.store import depot
from webapp.store.db import reading, writing
from webapp.web.access import needs, who
from webapp.web.forms import NEEDED, short

blueprint = Blueprint("depot", __name__, template_folder="templates")
MOST = 100


class Declared(FlaskForm):  # type: ignore[misc]
    reason = StringField("What was put back, and from when", [NEEDED, short(200)])
    sure = BooleanField(
        "An older copy of the database was put back", [DataRequired("Tick this if it is so.")]
    )


@blueprint.get("/desk/restored")
@needs("look")
def restored() -> str:
    """Show since when the depot's history is this one, and who was not heard since."""
    return _page(Declared())


@blueprint.post("/desk/restored")
@needs("publish")
def declare_restored() -> str | Response | tuple[str, int]:
    """Begin another epoch: a snapshot was put back, or a recovery to a point in time."""
    form = Declared()
    if not form.validate():
        return _page(form), 422
    with writing() as session:
        why = {"reason": (form.reason.data or "").strip()}
        declare(session, who(), datetime.now(UTC), why)
    return redirect(url_for("depot.restored"))


def _page(form: Declared) -> str:
    with reading() as session:
        epoch = depot.epoch(session)
        since = epoch.at if epoch and epoch.restored else None
        count, silent = tablets.unheard(session, since, MOST) if since else (0, [])
        held = warnings.held_before(session)
    return render_template(
        "restored.html", form=form, since=since, count=count, silent=silent, held=held
    )
