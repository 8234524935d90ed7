"""What tablets are told of the weather: of each line hour by hour, whole each time."""

from __future__ import annotations

import hashlib
import json
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import marshmallow as ma
from flask import Response, current_app, jsonify, request

from webapp.records.weather import outlook
from webapp.store.db import reading
from webapp.web.api import Blueprint
from webapp.web.stored import REVALIDATE

blueprint = Blueprint(
    "weather_feed", __name__, description="The rail state that weather proposes, by hour."
)
WHEN = {"format": "date-time"}


class WeatherHourOut(ma.Schema):
    """One hour, named by its end; without a state nothing is proposed for it."""

    at = ma.fields.String(required=True, metadata=WHEN)
    state = ma.fields.String(required=True, allow_none=True)
    why = ma.fields.List(ma.fields.String(), required=True)


class LineWeatherOut(ma.Schema):
    """A line's weather; who gave it and who made it worse stays at the depot."""

    id = ma.fields.UUID(required=True)
    line = ma.fields.String(required=True)
    given_at = ma.fields.String(required=True, metadata=WHEN)
    ends_at = ma.fields.String(required=True, metadata=WHEN)
    hours = ma.fields.List(ma.fields.Nested(WeatherHourOut), required=True)


class WeatherOut(ma.Schema):
    items = ma.fields.List(ma.fields.Nested(LineWeatherOut), required=True)
    server_time = ma.fields.String(required=True, metadata=WHEN)


@blueprint.get("/api/weather")
@blueprint.also(200, WeatherOut, "Each line in use that has weather, hour by hour")
@blueprint.also(304, None, "Nothing changed")
def feed() -> Response:
    """Give the proposed rail state of each line for every hour; the driver picks his own."""
    now = datetime.now(UTC)
    with reading() as session:
        items = outlook.told(session, ZoneInfo(current_app.config["DESK_ZONE"]), now)
    response = jsonify(items=items, server_time=now)
    # The server's clock in the answer is not content.
    response.set_etag(hashlib.sha256(json.dumps(items, sort_keys=True).encode()).hexdigest())
    response.headers["Cache-Control"] = REVALIDATE
    response.make_conditional(request)
    return response
