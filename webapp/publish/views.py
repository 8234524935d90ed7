from __future__ import annotations

from datetime import UTC, datetime

import marshmallow as ma
from flask import Response, current_app, jsonify, request

from webapp.api import Blueprint
from webapp.db import reading
from webapp.problem import Problem
from webapp.publish import service
from webapp.stored import IMMUTABLE, REVALIDATE, Stored, answer

blueprint = Blueprint("packs", __name__, description="What tablets download.")


class RouteOut(ma.Schema):
    key = ma.fields.String(required=True)
    name = ma.fields.String(required=True)
    pack = ma.fields.String(required=True)
    bytes = ma.fields.Integer(required=True)
    gz_bytes = ma.fields.Integer(required=True)


class IndexOut(ma.Schema):
    serial = ma.fields.Integer(required=True)
    server_time = ma.fields.String(required=True, metadata={"format": "date-time"})
    app_build = ma.fields.String(required=True)
    routes = ma.fields.List(ma.fields.Nested(RouteOut), required=True)


class PackOut(ma.Schema):
    """A file of a pack; its fields are in `webapp/packs/schemas/`, by `format`."""

    class Meta:
        unknown = ma.INCLUDE


@blueprint.get("/api/index")
@blueprint.also(200, IndexOut, "The current packs")
@blueprint.also(304, None, "Nothing changed")
@blueprint.leads_to("current pack", "readPack", sha="$response.body#/routes/0/pack")
def index() -> Response:
    """Name the current packs; `If-None-Match` gives 304 while they are the same."""
    with reading() as session:
        found = service.current(session)
    build = current_app.extensions["shell"].current.id
    response = jsonify(
        serial=found.serial,
        server_time=datetime.now(UTC),
        app_build=build,
        routes=found.routes,
    )
    response.set_etag(found.tag(build))
    response.headers["Cache-Control"] = REVALIDATE
    response.make_conditional(request)
    return response


@blueprint.get("/packs/<string(length=64):sha>")
@blueprint.named("readPack")
@blueprint.also(200, PackOut, "The file, gzip as stored")
@blueprint.also(304, None, "Already there")
def pack_file(sha: str) -> Response:
    """Send one pack file or manifest; its name is its content, so it never changes."""
    with reading() as session:
        packed = service.stored_file(session, sha)
    if packed is None:
        raise Problem(404, "no_such_file", "No published pack holds this file.")
    return answer(Stored("application/json", sha, packed), IMMUTABLE)
