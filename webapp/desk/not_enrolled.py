"""The desk's page of reports from tablets that are not enrolled: look, set aside, take in."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from flask import Blueprint, current_app, redirect, render_template, request, url_for
from flask_wtf import FlaskForm
from werkzeug.wrappers import Response
from wtforms import SelectField, SelectMultipleField, StringField
from wtforms.validators import InputRequired

from webapp.lines import in_use
from webapp.lines.base import Lines, name_of
from webapp.lines.posts import place_along
from webapp.records import not_enrolled, outbox, tablets
from webapp.records.not_enrolled_rows import HeldItem
from webapp.store.db import reading, writing
from webapp.web.access import needs, who
from webapp.web.forms import NEEDED, short
from webapp.web.problem import Problem

blueprint = Blueprint("not_enrolled", __name__, template_folder="templates")
Answer = str | Response | tuple[str, int]
DIGITS = 18
NOTHING = "Tick at least one, or choose all of them."


def _no(text: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) <= DIGITS):
        raise ValueError("no number of the list")
    return int(text)


class Bulk(FlaskForm):  # type: ignore[misc]
    """What to do with some of them, and why."""

    no = SelectMultipleField(validate_choice=False, coerce=_no)
    which = StringField()
    why = StringField("Reason", [NEEDED, short(not_enrolled.LONGEST_WHY)])


class TakeIn(FlaskForm):  # type: ignore[misc]
    tablet = SelectField("From which tablet", [InputRequired("Choose the tablet.")])


@dataclass(frozen=True)
class Shown:
    """One report or seal for the page, with names in place of keys."""

    row: HeldItem
    line: str
    direction: str
    place: str

    @property
    def body(self) -> dict[str, Any]:
        found: dict[str, Any] = self.row.item["body"]
        return found

    @property
    def title(self) -> str:
        if self.row.kind == "seal":
            return "Seal"
        signs = ", ".join(self.body.get("happened") or [])
        found = str(self.body["found"]).capitalize()
        return f"{found}: {signs}" if signs else found


def _shown(row: HeldItem, lines: Lines) -> Shown:
    line, body = row.line_key or "", row.item["body"]
    stop = name_of(lines.bases.get(line), "targets", row.target) if row.target else ""
    along = "" if row.at_m is None else place_along(row.at_m, lines.unit(line), about=True)
    nothing = "" if row.kind == "seal" else "place not given"
    where = body.get("place") or stop or along or nothing
    direction = lines.direction(line, row.direction or "")
    return Shown(row, lines.name(line), direction, str(where))


@blueprint.get("/desk/not-enrolled")
@needs("look")
def everyone() -> str:
    """List what waits, the gravest first; with `aside` what was set aside."""
    return _page(Bulk(formdata=None))


def _page(form: Bulk, trouble: str | None = None) -> str:
    aside, number = request.args.get("show") == "aside", _number(request.args.get("page", "1"))
    with reading() as session:
        page = not_enrolled.page(session, number, aside=aside)
        lines = Lines(in_use.bases(session))
        return render_template(
            "not-enrolled.html", page=page, aside=aside, form=form, trouble=trouble,
            rows=[_shown(row, lines) for row in page.rows], full=not_enrolled.full(session),
            waiting=not_enrolled.waiting(session), low=_low(), days=not_enrolled.KEPT.days,
        )  # fmt: skip


def _low() -> bool:
    floor = int(current_app.config["FREE_DISK_MB"])
    return not_enrolled.low_disk(current_app.config["DATA"], floor)


def _number(text: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) <= 6 and int(text)):
        raise Problem(422, "bad_page", "This address is incomplete. Open /desk/not-enrolled.")
    return int(text)


@blueprint.post("/desk/not-enrolled/set-aside")
@needs("review")
def set_aside() -> Answer:
    """Say that some, or all, were looked at and are not used."""
    return _bulk(remove=False)


@blueprint.post("/desk/not-enrolled/remove")
@needs("review")
def remove() -> Answer:
    """Delete some, or all of the list; their tablets keep their own."""
    return _bulk(remove=True)


def _bulk(*, remove: bool) -> Answer:
    form = Bulk()
    chosen = None if form.which.data == "all" else (form.no.data or [])
    if not form.validate():
        return _page(form), 422
    if chosen == []:
        return _page(form, NOTHING), 422
    why, now = form.why.data.strip(), datetime.now(UTC)
    aside = request.args.get("show") == "aside"
    with writing() as session:
        if remove:
            not_enrolled.remove(session, chosen, why, who(), now, aside=aside)
        else:
            not_enrolled.set_aside(session, chosen, why, who(), now)
    return redirect(url_for("not_enrolled.everyone", show="aside" if aside else None))


@blueprint.get("/desk/not-enrolled/<int:no>")
@needs("look")
def one(no: int) -> str:
    """Show one whole, with the tablets it may be taken in for."""
    return _one(no, TakeIn(formdata=None))


def _one(no: int, form: TakeIn, trouble: str | None = None) -> str:
    with reading() as session:
        try:
            row = not_enrolled.get(session, no)
        except not_enrolled.NotThere as gone:
            raise Problem(404, "not_held", str(gone)) from gone
        form.tablet.choices = [("", "choose")] + [
            (str(name), label) for name, label in tablets.names_in_use(session)
        ]
        shown = _shown(row, Lines(in_use.bases(session)))
        return render_template("not-enrolled-one.html", one=shown, form=form, trouble=trouble)


@blueprint.post("/desk/not-enrolled/<int:no>/take-in")
@needs("review")
def take_in(no: int) -> Answer:
    """Count it as the report of a named tablet, under a number of its own."""
    form = TakeIn()
    form.tablet.validate_choice = False
    form.tablet.choices = []
    if not form.validate():
        return _one(no, form), 422
    try:
        with writing() as session:
            kind, tablet = not_enrolled.get(session, no).kind, uuid.UUID(form.tablet.data)
            result = outbox.take_over(session, no, tablet, who(), datetime.now(UTC))
    except not_enrolled.NotThere as gone:
        raise Problem(404, "not_held", str(gone)) from gone
    except (LookupError, ValueError):
        return _one(no, form, "That tablet is not enrolled. Choose one of the list."), 422
    if result.result not in ("created", "duplicate"):
        return _one(no, form, REFUSED.get(result.code or "", REFUSED[""])), 422
    page = "seals.one" if kind == "seal" else "reports.single"
    return redirect(url_for(page, name=result.id))


REFUSED = {
    "id_reused": "Another report has this id with other words. Set this one aside.",
    "": "It does not fit what a report must be any more. Set it aside with the reason.",
}
