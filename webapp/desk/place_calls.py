"""Listed places for programs of the desk: read, and change by the same service as the form."""

from __future__ import annotations

import uuid
from datetime import datetime
from typing import Any

import marshmallow as ma
from flask import Response
from sqlalchemy.orm import Session

from webapp.desk import place_forms
from webapp.desk.places import read
from webapp.lines import in_use
from webapp.lines.base import Base
from webapp.packs.register import fit_listed
from webapp.plain.fields import Strict, Text
from webapp.plain.jsontext import rfc3339
from webapp.records.places import register, service
from webapp.store.db import reading
from webapp.web import if_match
from webapp.web.access import needs, who
from webapp.web.api import Blueprint
from webapp.web.problem import Problem

Json = dict[str, Any]

blueprint = Blueprint("place_calls", __name__, description="Listed places, for the desk.")
ADDRESS = "/api/desk/places/<uuid:place_id>"


class DeskPlace(ma.Schema):
    """A listed place as the register has it; `rev` 0 while only the route's files list it."""

    id = ma.fields.UUID(required=True)
    rev = ma.fields.Integer(required=True)
    line = ma.fields.String(required=True)
    key = ma.fields.String(required=True)
    from_m = ma.fields.Float(required=True)
    to_m = ma.fields.Float(required=True)
    retired_at = ma.fields.String(
        required=True, allow_none=True, metadata={"format": "date-time"}
    )
    retired_why = ma.fields.String(required=True)
    name = ma.fields.String(required=True)
    direction = ma.fields.String(required=True)
    from_place = ma.fields.String(required=True)
    to_place = ma.fields.String(required=True)
    state = ma.fields.String(required=True)
    season_from = ma.fields.String(required=True)
    season_to = ma.fields.String(required=True)
    reason = ma.fields.String(required=True)
    source = ma.fields.String(required=True)


class DeskPlaces(ma.Schema):
    items = ma.fields.List(ma.fields.Nested(DeskPlace), required=True)
    after = ma.fields.String(required=True, allow_none=True)


class After(ma.Schema):
    after = ma.fields.String(load_default=None)


class PlaceChanges(Strict):
    """The fields that change; a season is "MM-DD", both empty for the whole year."""

    name = Text(120)
    direction = Text(120)
    from_place = Text(40)
    to_place = Text(40)
    state = Text(120)
    season_from = Text(5, empty=True)
    season_to = Text(5, empty=True)
    reason = Text(200)
    source = Text(200)


@blueprint.get("/api/desk/places")
@blueprint.takes(After, location="query")
@blueprint.answers(200, DeskPlaces)
@blueprint.refuses(410, "Nothing goes on from there: begin without `after`")
@blueprint.leads_to("one", "readPlace", place_id="$response.body#/items/0/id")
@blueprint.of_the_desk
@needs("look")
def everyone(asked: Json) -> Json:
    """Give the listed places along their lines; `after` of the answer goes on."""
    try:
        after = None if asked["after"] is None else register.Cursor.read(asked["after"])
    except ValueError as error:
        said = "`after` leads nowhere. Begin again without it."
        raise Problem(410, "bad_cursor", said) from error
    with reading() as session:
        bases = in_use.bases(session)
        page = register.page(session, bases, None, after)
    items = [_as_json(one, bases.get(one.line_key)) for one in page.places]
    return {"items": items, "after": str(page.more) if page.more else None}


@blueprint.get(ADDRESS)
@blueprint.named("readPlace")
@blueprint.also(200, DeskPlace, "The place, with its tag")
@blueprint.also(304, None, "Nothing changed")
@blueprint.leads_to("change", "changePlace", place_id="$response.body#/id")
@blueprint.refuses(409, "No pack of its line is in use")
@blueprint.of_the_desk
@needs("look")
def one(place_id: uuid.UUID) -> Response:
    """Give one listed place as it stands."""
    return if_match.answer(_content(place_id))


@blueprint.patch(ADDRESS)
@blueprint.named("changePlace")
@blueprint.takes(PlaceChanges)
@blueprint.also(200, DeskPlace, "As it stands now, with its new tag")
@if_match.changes(blueprint)
@blueprint.of_the_desk
@needs("publish")
def change(typed: Json, place_id: uuid.UUID) -> Response:
    """Change the fields that are sent; tablets get them with the next pack."""
    before = _content(place_id)
    if_match.require(before)
    said = place_forms.columns({name: str(before[name]) for name in place_forms.TYPED} | typed)

    def work(session: Session, now: datetime) -> None:
        bases, rev = in_use.bases(session), before["rev"]
        service.change(session, bases, place_id, rev, said, who(), now, fit=fit_listed)

    return if_match.done(before, lambda: _content(place_id), work, lambda _now: "retired")


def _content(name: uuid.UUID) -> Json:
    place, bases = read(name)
    return _as_json(place, bases[place.line_key])


def _as_json(place: register.Place, base: Base | None) -> Json:
    said = {} if base is None else place_forms.kept_fields(place, base)
    gone = place.retired_at
    return {
        **{"id": str(place.id), "rev": place.rev, "line": place.line_key, "key": place.key},
        **{"from_m": place.from_m, "to_m": place.to_m, "retired_why": place.retired_why},
        "retired_at": None if gone is None else rfc3339(gone),
        **said,
    }
