"""The page of one report, and what may be done on it."""

from __future__ import annotations

import re
import uuid
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

from flask import flash, redirect, render_template, request, url_for
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response
from wtforms import IntegerField, RadioField, StringField, TextAreaField
from wtforms.validators import InputRequired, Optional, ValidationError

from webapp.desk.reports import blueprint, zone
from webapp.records.reports import actions, beside, filters, page
from webapp.store.db import reading, writing
from webapp.store.edits import Stale
from webapp.web.access import needs, who
from webapp.web.forms import NEEDED, Version, When, local, short
from webapp.web.problem import Problem

shared = blueprint
Answer = str | Response | tuple[str, int]
SPEAKERS = ("signaller", "control", "driver", "desk")
LARGEST = 2**63 - 1
SHORT = re.compile(r"\d{1,18}", re.ASCII)
NUMBER = "Type the number of a report, such as 12, or choose one of the list."


class NoteForm(Version):
    """What somebody said about the report."""

    said_by = RadioField("Said by", [InputRequired("Choose who said it.")], choices=SPEAKERS)
    said_at = When("Said at", [NEEDED])
    reference = StringField("Reference, such as the signaller's entry", [short(120)])
    text = TextAreaField("What was said", [NEEDED, short(2000)])


class JoinForm(Version):
    """The number of the report that this one repeats."""

    number = IntegerField("Number of the other report", [Optional()])
    listed = RadioField("Near by", [Optional()], choices=[], validate_choice=False)

    def validate_number(self, field: IntegerField) -> None:
        # Not `NumberRange`: it makes a float of what was typed, and 400 digits are none.
        if field.data is not None and not 1 <= field.data <= LARGEST:
            raise ValidationError(NUMBER)


@blueprint.get("/desk/reports/<uuid:name>")
@needs("look")
def single(name: uuid.UUID) -> str:
    """Show one report with what stands around it."""
    return _page(name)


@blueprint.post("/desk/reports/<uuid:name>/review")
@needs("review")
def review(name: uuid.UUID) -> Answer:
    """Mark it as reviewed, and go on to the next of the list as filtered."""
    done = _plain(name, actions.review)
    if not isinstance(done, Response):
        return done
    wanted = list_asked()
    with reading() as session:
        aside = _beside(session, name, wanted)
    flash(f"No. {aside.number} is marked as reviewed.")
    if aside.after is None:
        return redirect(url_for("reports.newest", **wanted.address()))
    return redirect(url_for("reports.single", name=aside.after.id, **wanted.address()))


@blueprint.post("/desk/reports/<uuid:name>/reopen")
@needs("review")
def reopen(name: uuid.UUID) -> Answer:
    """Take the review back."""
    return _plain(name, actions.reopen)


@blueprint.post("/desk/reports/<uuid:name>/part")
@needs("review")
def part(name: uuid.UUID) -> Answer:
    """Part it from the report it was joined to."""
    return _plain(name, actions.part)


@blueprint.post("/desk/reports/<uuid:name>/join")
@needs("review")
def join(name: uuid.UUID) -> Answer:
    """Join it to another report of the same event."""
    form = JoinForm()
    listed = str(form.listed.data or "")
    number = form.number.data or (int(listed) if SHORT.fullmatch(listed) else None)
    if not form.validate() or number is None:
        form.number.errors = [NUMBER]
        return _page(name, join_form=form), 422
    return _done(
        name,
        lambda session, now: actions.join(
            session, name, form.version.data or 0, number, who(), now
        ),
        join_form=form,
    )


@blueprint.post("/desk/reports/<uuid:name>/note")
@needs("review")
def note(name: uuid.UUID) -> Answer:
    """Keep what the signaller, control, the driver or the desk said."""
    form = NoteForm()
    said = {key: (form[key].data or "").strip() for key in ("said_by", "reference", "text")}
    if not form.validate() or not said["text"]:
        form.text.errors = form.text.errors or ([] if said["text"] else [NEEDED.message])
        return _page(name, note_form=form), 422
    whole = {**said, "said_at": form.said_at.moment()}
    return _done(
        name,
        lambda session, now: actions.note(
            session, name, form.version.data or 0, whole, who(), now
        ),
        note_form=form,
    )


def _plain(name: uuid.UUID, action: Callable[..., None]) -> Answer:
    """Do what needs no more than the version that was read."""
    form = Version()
    if not form.validate():
        raise Problem(422, "no_version", "Load the report's page again, then send it.")
    return _done(
        name, lambda session, now: action(session, name, form.version.data, who(), now)
    )


def _done(name: uuid.UUID, action: Callable[[Any, datetime], None], **forms: Any) -> Answer:
    """Do it in one transaction, or show the report as it is now with what was typed."""
    try:
        with writing() as session:
            action(session, datetime.now(UTC))
    except actions.NoSuchReport as error:
        raise none() from error
    except actions.Refused as reason:
        return _page(name, trouble=str(reason).removeprefix("said_at: "), **forms), 422
    except Stale as stale:
        words = f"{stale} Nothing was done, and what you typed is below. Look again."
        return _page(name, trouble=words, **forms), 409
    return redirect(url_for("reports.single", name=name, **list_asked().address()))


def list_asked() -> filters.Filter:
    """Return the filter of the list the reader came from, as it stands in the address."""
    try:
        return filters.read(request.args)[0]
    except filters.Faults as error:
        raise Problem(
            422, "bad_list", f"{error} Open /desk/reports again.", errors=error.faults
        ) from error


def none() -> Problem:
    return Problem(404, "no_such_report", "No report with this id has arrived.")


def _page(name: uuid.UUID, trouble: str | None = None, **forms: Any) -> str:
    minute = local(datetime.now(UTC).replace(second=0, microsecond=0))
    wanted = list_asked()
    with reading() as session:
        found = page.gather(session, name, zone())
        if found is None:
            raise none()
        aside = _beside(session, name, wanted)
        typed = {
            "note_form": forms.get("note_form")
            or NoteForm(formdata=None, data={"said_at": minute}),
            "join_form": forms.get("join_form") or JoinForm(formdata=None),
        }
        # Sent again it is meant: the newest version was read beside it.
        for form in typed.values():
            form.version.raw_data, form.version.data = None, found.report.version
        return render_template(
            "report.html",
            page=found,
            report=found.report,
            trouble=trouble,
            beside=aside,
            address=wanted.address(),
            **typed,
        )


def _beside(session: Session, name: uuid.UUID, wanted: filters.Filter) -> beside.Beside:
    try:
        found = beside.of(session, name, wanted, zone())
    except filters.Faults as error:
        raise Problem(
            422, "bad_list", f"{error} Open /desk/reports again.", errors=error.faults
        ) from error
    if found is None:
        raise none()
    return found
