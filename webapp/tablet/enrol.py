from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import marshmallow as ma
from flask import Response, jsonify, request

from webapp.plain.addresses import network
from webapp.plain.fields import Strict, Text
from webapp.records import tablets
from webapp.records.reports import service as reports
from webapp.store import depot, throttle
from webapp.store.db import reading, writing
from webapp.web import tablet_cookie
from webapp.web.api import Blueprint
from webapp.web.problem import Problem, too_many

blueprint = Blueprint("tablets", __name__, description="Which tablet is speaking.")


class CodeIn(Strict):
    code = Text(40, required=True)


class DepotOut(ma.Schema):
    epoch = ma.fields.String(required=True)
    highest = ma.fields.Integer(required=True)


class TabletOut(ma.Schema):
    enrolled = ma.fields.Boolean(required=True)
    valid = ma.fields.Boolean(required=True)
    label = ma.fields.String(required=True, allow_none=True)
    # For a valid tablet: by it it sees whether an older copy of the depot was put back.
    depot = ma.fields.Nested(DepotOut)


@blueprint.get("/api/tablet")
@blueprint.also(200, TabletOut, "Whether the depot knows this tablet")
def tablet() -> Response:
    """Tell a tablet whether it is enrolled here; a revoked one is known but not valid."""
    now = datetime.now(UTC)
    with reading() as session:
        known = tablets.known(session, tablet_cookie.token())
        epoch = depot.epoch(session) if known and known.valid else None
        highest = reports.highest(session) if epoch else 0
    if known is not None and tablets.note_due(known, now):
        with writing() as session:
            tablets.asked(session, known, now)
    return _told(known, {"epoch": epoch.name, "highest": highest} if epoch else None)


@blueprint.post("/api/enrol")
@blueprint.takes(CodeIn)
@blueprint.also(200, TabletOut, "Enrolled; the cookie is set")
@blueprint.refuses(429, "Too many wrong codes from this address: wait a minute")
def enrol(body: dict[str, Any]) -> Response:
    """Enrol the tablet that sends a code made at the desk: once, while it is good."""
    now, address = datetime.now(UTC), network(request.remote_addr or "")
    with writing() as session:
        for limit, key in (throttle.ENROL, address), (throttle.ENROL_ALL, ""):
            too_many(throttle.tried(session, limit, key, now))
    with writing() as session:
        made = tablets.enrol_by_code(session, body["code"], now)
        if made is not None:
            throttle.passed(session, throttle.ENROL, address)
            throttle.knew(session, throttle.ENROL_ALL, "", now)
    if made is None:
        raise Problem(
            403,
            "wrong_code",
            "This code is wrong, used or too old. Ask the desk for a new one.",
        )
    token, label = made
    response = jsonify(enrolled=True, valid=True, label=label)
    tablet_cookie.give(response, token)
    return response


def _told(known: tablets.Tablet | None, said: dict[str, Any] | None) -> Response:
    response = jsonify(
        enrolled=known is not None,
        valid=known is not None and known.valid,
        label=known.label if known else None,
        **({"depot": said} if said else {}),
    )
    response.headers["Cache-Control"] = "no-store"
    return response
