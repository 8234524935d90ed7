"""The desk's pages of tablets: what each holds, what reached it, when it was heard."""

from __future__ import annotations

import uuid
from collections import Counter
from datetime import UTC, datetime
from typing import Any

import segno
from flask import Blueprint, current_app, redirect, render_template, request, url_for
from flask_wtf import FlaskForm
from markupsafe import Markup
from werkzeug.wrappers import Response
from wtforms import StringField, TextAreaField, ValidationError

from webapp.plain import codes
from webapp.publish import service as publisher
from webapp.records import tablets
from webapp.records.warnings import receipts
from webapp.records.warnings import service as warnings
from webapp.store.db import reading, writing
from webapp.web.access import needs, who
from webapp.web.forms import NEEDED, short
from webapp.web.problem import Problem

blueprint = Blueprint("tablet_list", __name__, template_folder="templates")
SHORT = short(60)
MOST_AT_ONCE = 500


class BaseOf(FlaskForm):  # type: ignore[misc]
    base = StringField("Duty base", [SHORT])


class NewTablet(BaseOf):
    label = StringField("Name of the tablet, not of a driver", [NEEDED, SHORT])


class ManyTablets(FlaskForm):  # type: ignore[misc]
    names = TextAreaField("Tablets, one a line: name; duty base", [NEEDED, short(40_000)])

    def validate_names(self, field: TextAreaField) -> None:
        """Name the first line that cannot be taken."""
        found = read_list(field.data or "")
        if len(found) > MOST_AT_ONCE:
            raise ValidationError(f"At most {MOST_AT_ONCE} at once. Make a second sheet.")
        for number, (label, base) in enumerate(found, 1):
            if not 1 <= len(label) <= 60 or len(base) > 60:
                raise ValidationError(
                    f"Tablet {number}: name and base have at most 60 letters."
                )
        twice = [label for label, n in Counter(label for label, _ in found).items() if n > 1]
        if twice:
            raise ValidationError(f"{twice[0]} is there twice. Give each its own name.")


def read_list(text: str) -> list[tuple[str, str]]:
    """Read name and duty base of each line; empty lines are left out."""
    lines = (line.partition(";") for line in text.splitlines() if line.strip())
    return [(label.strip(), base.strip()) for label, _, base in lines]


@blueprint.get("/desk/tablets")
@needs("look")
def everyone() -> str:
    """List the tablets; with `warning` those in use that have not received it."""
    return _page(NewTablet())


@blueprint.post("/desk/tablets")
@needs("review")
def code() -> str | tuple[str, int]:
    """Make a code for one tablet; it is shown once, as letters and as a picture to scan."""
    form = NewTablet()
    if not form.validate():
        return _page(form), 422
    label, base = form.label.data.strip(), (form.base.data or "").strip()
    return _sheet([(label, base)])


@blueprint.route("/desk/tablets/sheet", methods=["GET", "POST"])
@needs("review")
def sheet() -> str | tuple[str, int]:
    """Make a code for each tablet of a list, as a sheet to print and cut."""
    form = ManyTablets()
    if not form.is_submitted():
        return render_template("enrol-list.html", form=form)
    wanted = read_list(form.names.data or "") if form.validate() else []
    if not wanted or form.names.errors:
        return render_template("enrol-list.html", form=form), 422
    return _sheet(wanted)


def _sheet(wanted: list[tuple[str, str]]) -> str:
    """Make the codes and show them: the one time that they are seen."""
    now, named = datetime.now(UTC), _key_name()
    with writing() as session:
        made = [
            (label, base, tablets.make_code(session, label, who(), now, base) + named)
            for label, base in wanted
        ]
        until = now + tablets.code_lives(session)
    cards = [(label, base, codes.shown(code), _picture(code)) for label, base, code in made]
    return render_template("enrol-code.html", cards=cards, until=until)


def _key_name() -> str:
    """Name the depot's key in the code, so that the tablet trusts nobody else with it."""
    key = current_app.extensions["depot_key"].load()
    return codes.of_key(key.id) if key else ""


def _picture(code: str) -> Markup:
    picture = segno.make(code, error="m", micro=False)
    return Markup(picture.svg_inline(scale=4, dark="#000", light="#fff"))


@blueprint.get("/desk/tablets/<uuid:device_id>")
@needs("look")
def one(device_id: uuid.UUID) -> str:
    """Show one tablet: packs, living warnings, duty base."""
    return _one(device_id)


@blueprint.post("/desk/tablets/<uuid:device_id>/base")
@needs("review")
def base(device_id: uuid.UUID) -> str | Response | tuple[str, int]:
    """Say which duty base a tablet belongs to."""
    form = BaseOf()
    if not form.validate():
        return _one(device_id, form), 422
    with writing() as session:
        typed = (form.base.data or "").strip()
        tablets.place_at(session, device_id, typed, who(), datetime.now(UTC))
    return redirect(url_for("tablet_list.one", device_id=device_id))


@blueprint.post("/desk/tablets/<uuid:device_id>/revoke")
@needs("review")
def revoke(device_id: uuid.UUID) -> Response:
    """Take a tablet's right away: what it still sends is kept apart."""
    with writing() as session:
        tablets.revoke(session, device_id, datetime.now(UTC), who())
    return redirect(url_for("tablet_list.everyone"))


def _page(form: NewTablet) -> str:
    after, wanted = _cursor(request.args.get("after")), _id(request.args.get("warning"))
    ended = request.args.get("ended") == "1"
    with reading() as session:
        live = receipts.living(session)
        lacking = _holders(session, wanted)
        page = tablets.page(session, after, lacking, ended=ended)
        ids = [tablet.id for tablet in page.tablets]
        found = _held(session, ids)
        counts = receipts.counts_of(session, ids)
    return render_template(
        "tablets.html", page=page, form=form, live=live, wanted=wanted, ended=ended,
        after=after, counts=counts, **found,
    )  # fmt: skip


def _holders(session: Any, wanted: uuid.UUID | None) -> Any:
    try:
        return warnings.holders(session, wanted) if wanted else None
    except warnings.NoSuchWarning as error:
        raise Problem(404, "no_such_warning", str(error)) from error


def _one(device_id: uuid.UUID, form: BaseOf | None = None) -> str:
    with reading() as session:
        tablet = tablets.get(session, device_id)
        if tablet is None:
            raise Problem(404, "no_such_tablet", "No tablet has this id. Go back to the list.")
        found = _held(session, [device_id])
        held = receipts.held_by(session, device_id)
    return render_template(
        "tablet.html", tablet=tablet, held=held, form=form or BaseOf(obj=tablet), **found
    )


def _held(session: Any, ids: list[uuid.UUID]) -> dict[str, Any]:
    """Return the packs that tablets hold, and those that are in use at the depot."""
    routes = publisher.current(session).routes
    return {
        "packs": tablets.packs_of(session, ids),
        "routes": {route["key"]: route for route in routes},
    }


def _cursor(text: str | None) -> tablets.Cursor | None:
    try:
        return None if text is None else tablets.Cursor.read(text)
    except (ValueError, RecursionError) as error:
        raise Problem(
            422, "bad_cursor", "This address is incomplete. Open /desk/tablets again."
        ) from error


def _id(text: str | None) -> uuid.UUID | None:
    try:
        return uuid.UUID(text) if text else None
    except ValueError as error:
        raise Problem(
            422, "bad_warning", "This address names no warning. Open /desk/tablets again."
        ) from error
