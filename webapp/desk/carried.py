"""The desk's page for a file that somebody carried here from a tablet."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime

from flask import Blueprint, render_template, request
from flask_wtf import FlaskForm
from flask_wtf.file import FileField, FileRequired

from webapp.records import carried, tablets
from webapp.store.db import reading, writing
from webapp.web.access import needs, who
from webapp.web.problem import Problem

blueprint = Blueprint("carried", __name__, template_folder="templates")


class Carried(FlaskForm):  # type: ignore[misc]
    file = FileField("File from the tablet", [FileRequired("Choose the file.")])


@blueprint.route("/desk/carried", methods=["GET", "POST"])
@needs("review")
def page() -> str | tuple[str, int]:
    """Take in what a tablet could not send; `tablet` names the one it came from."""
    form, tablet = Carried(), _tablet()
    if not form.is_submitted():
        return render_template("carried.html", form=form, tablet=tablet, faults=[], taken=None)
    if not form.validate():
        faults = [*form.file.errors, *form.errors.get("csrf_token", [])]
        return _refused(form, tablet, faults)
    try:
        with writing() as session:
            taken = carried.take_in(
                session,
                form.file.data.read(),
                who(),
                datetime.now(UTC),
                tablet.id if tablet else None,
            )
    except carried.Unread as error:
        return _refused(form, tablet, error.faults)
    return render_template(
        "carried.html", form=form, tablet=tablet, faults=[], taken=taken, said=carried.said
    )


def _refused(
    form: Carried, tablet: tablets.Listed | None, faults: list[str]
) -> tuple[str, int]:
    text = render_template(
        "carried.html", form=form, tablet=tablet, faults=faults[:20], taken=None
    )
    return text, 422


def _tablet() -> tablets.Listed | None:
    named = request.args.get("tablet")
    if named is None:
        return None
    try:
        wanted = uuid.UUID(named)
    except ValueError as error:
        raise Problem(404, "no_such_tablet", "No tablet has this address.") from error
    with reading() as session:
        found = tablets.get(session, wanted)
    if found is None:
        raise Problem(404, "no_such_tablet", "No tablet has this address.")
    return found
