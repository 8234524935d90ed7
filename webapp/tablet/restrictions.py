"""What tablets are told of restrictions: all that is live or to come, whole each time.

A register typed by hand holds too few for a cursor, and what is whole cannot be skipped.
"""

from __future__ import annotations

import hashlib
import json
from datetime import UTC, datetime
from typing import Any

import marshmallow as ma
from flask import Response, jsonify, request

from webapp.records.restrictions import service
from webapp.store.db import reading
from webapp.web.api import Blueprint
from webapp.web.stored import REVALIDATE

blueprint = Blueprint(
    "restriction_feed", __name__, description="Temporary speed restrictions, as noted."
)


class RestrictionOut(ma.Schema):
    """One restriction as its notice says it; who told it stays at the depot."""

    id = ma.fields.UUID(required=True)
    rev = ma.fields.Integer(required=True)
    line = ma.fields.String(required=True)
    direction = ma.fields.String(required=True)
    datum = ma.fields.String(required=True)
    from_m = ma.fields.Float(required=True)
    to_m = ma.fields.Float(required=True)
    speed = ma.fields.Integer(required=True)
    unit = ma.fields.String(required=True, validate=ma.validate.OneOf(list(service.UNITS)))
    speed_mps = ma.fields.Float(required=True)
    from_at = ma.fields.String(required=True, metadata={"format": "date-time"})
    until_at = ma.fields.String(
        required=True, allow_none=True, metadata={"format": "date-time"}
    )
    reference = ma.fields.String(required=True)


class RestrictionsOut(ma.Schema):
    items = ma.fields.List(ma.fields.Nested(RestrictionOut), required=True)
    server_time = ma.fields.String(required=True, metadata={"format": "date-time"})


@blueprint.get("/api/restrictions")
@blueprint.also(200, RestrictionsOut, "All that are live or to come on the lines in use")
@blueprint.also(304, None, "Nothing changed")
def feed() -> Response:
    """Give every restriction that nobody has ended; the notice stays the authority."""
    with reading() as session:
        items: list[dict[str, Any]] = service.told(session)
    response = jsonify(items=items, server_time=datetime.now(UTC))
    # The server's clock in the answer is not content.
    response.set_etag(hashlib.sha256(json.dumps(items, sort_keys=True).encode()).hexdigest())
    response.headers["Cache-Control"] = REVALIDATE
    response.make_conditional(request)
    return response
