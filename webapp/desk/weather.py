"""The desk's pages of weather: the next 36 hours, a file, typed values, worse by hand."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

from flask import Blueprint, current_app, redirect, render_template, request, url_for
from flask_wtf import FlaskForm
from werkzeug.wrappers import Response

from webapp.desk import editing
from webapp.desk import weather_forms as forms
from webapp.desk import weather_picture as picture
from webapp.lines import in_use
from webapp.lines.base import Base
from webapp.records.weather import held, hourly, take_in
from webapp.records.weather.columns import LABELS, mapping_of
from webapp.records.weather.faults import WeatherFaults
from webapp.records.weather.outlook import outlook
from webapp.records.weather.reader import HOUR, headings_of
from webapp.records.weather.rows import COLUMNS
from webapp.store.db import reading, writing
from webapp.web.access import needs, who
from webapp.web.forms import mark, zone
from webapp.web.problem import Problem

blueprint = Blueprint("weather", __name__, template_folder="templates")
Answer = str | Response | tuple[str, int]
#: The longest a file may be to be kept in the form while its columns are chosen. [characters]
LONGEST_KEPT = 400_000
#: A file in another form has a fault in each row: as many as a person reads.
MOST_FAULTS = 40


@blueprint.get("/desk/weather")
@needs("look")
def everyone() -> str:
    """List the lines, each with what weather is held of it."""
    now = datetime.now(UTC)
    with reading() as session:
        rows = [
            (base, held.latest(session, line)) for line, base in in_use.bases(session).items()
        ]
        return render_template(
            "weather-lines.html", rows=rows, old=lambda row: held.too_old(row, now)
        )


@blueprint.get("/desk/weather/<line_key>")
@needs("look")
def line(line_key: str) -> str:
    """Show the next 36 hours of one line."""
    return _page(line_key)


@blueprint.post("/desk/weather/<line_key>/read")
@needs("publish")
def read(line_key: str) -> Answer:
    """Take in a file of hours, or say which of its columns is which."""
    form = forms.FileForm()
    if "content" in request.form:
        return _mapped(line_key)
    if not form.validate_on_submit():
        return _page(line_key, file=form), 422
    content, name = form.file.data.read(), form.file.data.filename or "file"
    base = _base(line_key)
    station, now = form.where(), datetime.now(UTC)
    try:
        with writing() as session:
            if form.again.data and not hourly.looks_like_it(content):
                raise take_in.ColumnsUnknown
            take_in.file(session, base, content, name, station, zone(), who(), now)
    except take_in.ColumnsUnknown:
        return _ask_columns(base, content, name, station)
    except WeatherFaults as found:
        return _page(line_key, file=form, faults=found), 422
    return redirect(url_for("weather.line", line_key=line_key))


def _mapped(line_key: str) -> Answer:
    """Take in a file again with its columns as a person has just chosen them."""
    base, now = _base(line_key), datetime.now(UTC)
    content, name = request.form["content"].encode(), request.form.get("name", "file")[:200]
    form = forms.FileForm()
    station = form.where()
    if not FlaskForm().validate_on_submit():
        raise Problem(400, "csrf", "This page is too old. Open the line's weather again.")
    try:
        columns = mapping_of(forms.mapped(request.form))
        with writing() as session:
            held.keep_columns(session, line_key, columns, who(), now)
            take_in.file(session, base, content, name, station, zone(), who(), now)
    except take_in.ColumnsUnknown:
        said = ["The file has no such column, or has it twice. Choose again."]
        return _ask_columns(base, content, name, station, said)
    except WeatherFaults as found:
        return _ask_columns(base, content, name, station, str(found).split("\n"))
    except ValueError as found:
        said = [_labelled(one) for one in str(found).split("\n")]
        return _ask_columns(base, content, name, station, said)
    return redirect(url_for("weather.line", line_key=line_key))


def _labelled(fault: str) -> str:
    name, _, said = fault.partition(": ")
    return f"{LABELS.get(name, name)}: {said}"


def _ask_columns(
    base: Base,
    content: bytes,
    name: str,
    station: held.Station,
    faults: Sequence[str] = (),
) -> Answer:
    """Ask which column is which; the file waits in the page, nothing of it is kept yet."""
    line_key = base.key
    headings = headings_of(content)
    text = content.decode("utf-8-sig", "replace")
    if not headings or len(text) > LONGEST_KEPT or len(headings) > take_in.MOST_HEADINGS:
        fault = take_in.unreadable(name, headings, len(text) > LONGEST_KEPT)
        return _page(line_key, faults=fault), 422
    with reading() as session:
        kept = held.columns_of(session, line_key)
    before = kept.kept() if kept else {}
    chosen = forms.mapped(request.form) or {
        one: before.get(one, {"heading": one, "unit": ""}) for one in COLUMNS
    }
    page = render_template(
        "weather-columns.html", base=base, headings=headings, text=text, name=name,
        station=station, faults=faults, labels=LABELS, units=forms.units_of,
        chosen=chosen, form=FlaskForm(),
    )  # fmt: skip
    return page, 422 if faults else 200


@blueprint.post("/desk/weather/<line_key>/typed")
@needs("publish")
def typed(line_key: str) -> Answer:
    """Take in this hour as somebody sees it, over what is held."""
    form, base, now = forms.TypedForm(), _base(line_key), datetime.now(UTC)
    if not form.validate_on_submit():
        return _page(line_key, typed=form), 422
    try:
        with writing() as session:
            take_in.typed(session, base, form.typed(), form.dry_hours.data, who(), now)
    except WeatherFaults as found:
        mark(form, [f"{one.column}: {one.problem}. {one.cure}." for one in found.faults])
        return _page(line_key, typed=form), 422
    return redirect(url_for("weather.line", line_key=line_key))


@blueprint.post("/desk/weather/<line_key>/worse")
@needs("publish")
def worse(line_key: str) -> Answer:
    """Make some hours of a line worse than the weather does."""
    base = _base(line_key)
    form = forms.prepared(forms.WorseForm(), base)
    return editing.sent(
        form,
        lambda session, now: held.make_worse(session, base, form.told(), who(), now),
        then=lambda _name: redirect(url_for("weather.line", line_key=line_key)),
        again=lambda: _page(line_key, worse=form),
    )


@blueprint.post("/desk/weather/changes/<uuid:change_id>/back")
@needs("publish")
def back(change_id: uuid.UUID) -> Answer:
    """Take back what another person made worse."""
    form = forms.BackForm()
    if not form.validate_on_submit():
        raise Problem(422, "no_reason", "Say why it is taken back: go back and fill that in.")
    try:
        with writing() as session:
            line_key = held.take_back(
                session, change_id, form.reason.data.strip(), who(), datetime.now(UTC)
            )
    except LookupError:
        raise Problem(404, "no_such_change", "None such. /desk/weather lists lines.") from None
    except held.Refused as why:
        raise Problem(409, "not_taken_back", str(why)) from None
    return redirect(url_for("weather.line", line_key=line_key))


def _base(line_key: str) -> Base:
    with reading() as session:
        base = in_use.bases(session).get(line_key)
    if base is None:
        said = f"{line_key}: no pack of this line is in use. /desk/weather lists the lines."
        raise Problem(404, "no_such_line", said)
    return base


def _page(line_key: str, faults: WeatherFaults | None = None, **shown: Any) -> str:
    base, now = _base(line_key), datetime.now(UTC)
    with reading() as session:
        row = held.latest(session, line_key)
        changes = held.changes(session, line_key, now)
        columns = held.columns_of(session, line_key)
        try:
            found = outlook(base, row, changes, zone(), now)
        except ValueError:
            found = None
        given = {
            "file": shown.get("file") or forms.FileForm(formdata=None),
            "typed": shown.get("typed") or forms.TypedForm(formdata=None),
            "worse": shown.get("worse") or _worse_form(base, now),
            "back": forms.BackForm(formdata=None),
        }
        drawn = found and picture.drawn(base, found, zone())
        stretches = found and picture.stretches(base, found.hours, zone())
        return render_template(
            "weather.html", base=base, row=row, changes=changes, now=now, found=found,
            drawn=drawn, stretches=stretches, columns=columns, labels=LABELS, faults=faults,
            most=MOST_FAULTS, zone=current_app.config["DESK_ZONE"],
            too_old=f"{held.TOO_OLD // HOUR} h", **given,
        )  # fmt: skip


def _worse_form(base: Base, now: datetime) -> forms.WorseForm:
    begins = now.replace(minute=0, second=0, microsecond=0)
    here = {
        "from_at": begins.astimezone(zone()).replace(tzinfo=None),
        "until_at": (begins + timedelta(hours=6)).astimezone(zone()).replace(tzinfo=None),
    }
    return forms.prepared(forms.WorseForm(formdata=None, data=here), base)
