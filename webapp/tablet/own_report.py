"""What a driver reads back: every row about a report, to the tablet that sent it."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime

import marshmallow as ma
from flask import Response, jsonify

from webapp.records import privacy
from webapp.store.db import reading
from webapp.web import tablet_cookie
from webapp.web.api import Blueprint
from webapp.web.problem import Problem

blueprint = Blueprint("own", __name__, description="What is held about a tablet's own report.")


class HeldOut(ma.Schema):
    report = ma.fields.Dict(required=True)
    searched = ma.fields.String(required=True)
    answer = ma.fields.Dict(required=True, allow_none=True)
    notes = ma.fields.List(ma.fields.Dict(), required=True)
    refusals = ma.fields.List(ma.fields.Dict(), required=True)
    warnings = ma.fields.List(ma.fields.Dict(), required=True)
    wheels = ma.fields.Dict(required=True, allow_none=True)
    seals = ma.fields.List(ma.fields.Dict(), required=True)
    server_time = ma.fields.String(required=True, metadata={"format": "date-time"})


@blueprint.get("/api/reports/<uuid:name>")
@blueprint.also(200, HeldOut, "Every row about this report, as it is held")
@blueprint.refuses(401, "No enrolled tablet is asking")
@blueprint.refuses(404, "This tablet sent no such report, or it was anonymised since")
def own(name: uuid.UUID) -> Response:
    """Give the tablet that sent a report all that the depot holds about it."""
    with reading() as session:
        tablet, found = privacy.own(session, tablet_cookie.token(), name)
    if not tablet:
        raise Problem(401, "not_enrolled", "Enrol this tablet: only its own reports are told.")
    if found is None:
        raise Problem(404, "not_held", "The depot holds no report of this tablet by that id.")
    response = jsonify(**found, server_time=datetime.now(UTC))
    response.headers["Cache-Control"] = "no-store"
    return response
