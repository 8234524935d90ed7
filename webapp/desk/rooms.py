"""The desk's page of what a second buys: levels of room, worked out and picked."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from flask import Blueprint, current_app, redirect, render_template, request, url_for
from flask_wtf import FlaskForm
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response as AnyResponse
from wtforms import RadioField, TextAreaField
from wtforms.fields.choices import SelectChoice

from webapp.lines import in_use
from webapp.packs.levels import LEVELS, level
from webapp.publish import proposals, room
from webapp.publish.models import RoomStudy
from webapp.publish.proposals import NotPossible
from webapp.publish.room_picture import LINES, draw
from webapp.records.places import register as register_
from webapp.store.db import reading, writing
from webapp.web.access import needs, who
from webapp.web.forms import NEEDED, short
from webapp.web.problem import Problem

Json = dict[str, Any]
Answer = str | AnyResponse | tuple[str, int]
blueprint = Blueprint("room_desk", __name__, template_folder="templates")


CHOICES = [SelectChoice(one.key, f"{n}. {one.name}") for n, one in enumerate(LEVELS, 1)]


class LevelForm(FlaskForm):  # type: ignore[misc]
    """Which level, and why: both go into the audit."""

    level = RadioField("Level", [NEEDED], choices=CHOICES)
    reason = TextAreaField("Reason", [NEEDED, short(proposals.REASON_LONGEST)])


@blueprint.get("/desk/packs/<route>/room")
@needs("look")
def page(route: str) -> Answer:
    """Show what each level of room costs a trip and what it buys, rail by rail."""
    return _page(route, LevelForm())


@blueprint.post("/desk/packs/<route>/room/ask")
@needs("publish")
def ask(route: str) -> Answer:
    """Have it worked out in the background."""
    try:
        with writing() as session:
            room.ask(session, route, who(), datetime.now(UTC))
    except NotPossible as no:
        return _page(route, LevelForm(formdata=None), str(no)), 409
    _start()
    return redirect(url_for("room_desk.page", route=route))


@blueprint.post("/desk/packs/<route>/room/build")
@needs("publish")
def build(route: str) -> Answer:
    """Ask for a build of the line with another level of room."""
    form = LevelForm()
    if not form.validate_on_submit():
        return _page(route, form), 422
    try:
        number = _asked(route, form)
    except NotPossible as no:
        return _page(route, form, str(no)), 409
    _start()
    return redirect(url_for("pack_desk.proposal", number=number))


def _asked(route: str, form: FlaskForm) -> int:
    said = " ".join(str(form.reason.data).split())
    with writing() as session:
        register, now = register_.entries(session, route), datetime.now(UTC)
        row = proposals.ask_build(
            session, route, register, who(), said, now, room=str(form.level.data)
        )
        return row.id


def _start() -> None:
    current_app.extensions["start_builder"](current_app._get_current_object())  # type: ignore[attr-defined]


def _page(route: str, form: FlaskForm, trouble: str | None = None) -> str:
    with reading() as session:
        last = proposals.last_pack(session, route)
        if last is None:
            raise Problem(404, "no_such_line", "No pack of this line was ever in use.")
        source, row = proposals.source_of(session, last), room.of_line(session, route)
        page: Json = {"form": form, "trouble": trouble, "route": route, "row": row}
        page |= {"name": in_use.base(session, last).name, "source": source}
        page |= {"level": room.level_in(session, source), "levels": LEVELS, "lines": LINES}
        page["stale"] = _stale(session, row, source)
        return render_template("pack-room.html", **page, **_rail(row))


def _stale(session: Session, row: RoomStudy | None, source: str | None) -> bool:
    """Whether the line changed since it was worked out, by more than its level."""
    if row is None or row.result is None or source is None:
        return False
    return not room.same_line(session, row.source, source)


def _rail(row: RoomStudy | None) -> Json:
    """Return the rail that is asked for, or the first, with its picture."""
    rails = row.result["rails"] if row is not None and row.result else []
    key = request.args.get("rail")
    rail = next((one for one in rails if one["key"] == key), rails[0] if rails else None)
    return {"rails": rails, "rail": rail, "picture": draw(rail) if rail else None}


def compared(session: Session, route: str, was: str, now: str) -> Json | None:
    """Return what a change of level costs and buys, for its comparison; None: no change.

    Two levels of the kept study by rail, none where it was not worked out.
    """
    if was == now:
        return None
    row = room.of_line(session, route)
    rails = row.result["rails"] if row is not None and row.result else []
    names = [level(key).name if key else "figures of the route's own" for key in (was, now)]
    both = [
        {
            "name": rail["name"],
            "levels": [
                one for key in (was, now) for one in rail["levels"] if one["level"] == key
            ],
        }
        for rail in rails
    ]
    return {"names": names, "rails": both, "sample": row.result if rails and row else None}
