from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import marshmallow as ma
from flask import Response, current_app, jsonify, request

from webapp.lines import in_use
from webapp.plain.config import SettingsError
from webapp.plain.fields import Strict
from webapp.publish import keys as keys_
from webapp.publish import service
from webapp.store.db import reading, writing
from webapp.web.api import Blueprint
from webapp.web.problem import Problem
from webapp.web.stored import IMMUTABLE, REVALIDATE, Stored, answer

blueprint = Blueprint("packs", __name__, description="What tablets download.")


class RouteOut(ma.Schema):
    key = ma.fields.String(required=True)
    name = ma.fields.String(required=True)
    pack = ma.fields.String(required=True)
    bytes = ma.fields.Integer(required=True)
    gz_bytes = ma.fields.Integer(required=True)


class SignedOut(ma.Schema):
    signed = ma.fields.String(required=True)
    key_id = ma.fields.String(required=True)
    sig_ed25519 = ma.fields.String(required=True)
    sig_p256 = ma.fields.String(required=True)


class IndexOut(SignedOut):
    serial = ma.fields.Integer(required=True)
    server_time = ma.fields.String(required=True, metadata={"format": "date-time"})
    app_build = ma.fields.String(required=True)
    routes = ma.fields.List(ma.fields.Nested(RouteOut), required=True)


class PackOut(ma.Schema):
    """A file of a pack; its fields are in `webapp/packs/schemas/`, by `format`."""

    class Meta:
        unknown = ma.INCLUDE


class ProofIn(Strict):
    # Words that a tablet makes up for one question; no others, so that the document says all.
    n = ma.fields.String(
        required=True,
        validate=ma.validate.Regexp(
            r"^[A-Za-z0-9_-]{1,64}$", error="Use 1 to 64 letters, digits, - and _."
        ),
    )


class KeysOut(ma.Schema):
    key_id = ma.fields.String(required=True)
    ed25519 = ma.fields.String(required=True)
    p256 = ma.fields.String(required=True)
    handovers = ma.fields.List(ma.fields.Nested(SignedOut), required=True)


@blueprint.get("/api/index")
@blueprint.also(200, IndexOut, "The current packs")
@blueprint.also(304, None, "Nothing changed")
@blueprint.leads_to("current pack", "readPack", sha="$response.body#/routes/0/pack")
def index() -> Response:
    """Name the current packs, signed; `If-None-Match` gives 304 while they are the same."""
    found, _key = _signed_index()
    build = current_app.extensions["shell"].current.id
    body: dict[str, Any] = vars(found.signature) if found.signature else {}
    response = jsonify(
        serial=found.serial,
        server_time=datetime.now(UTC),
        app_build=build,
        routes=found.routes,
        **body,
    )
    response.set_etag(found.tag(build))
    response.headers["Cache-Control"] = REVALIDATE
    response.make_conditional(request)
    return response


@blueprint.get("/api/keys")
@blueprint.also(200, KeysOut, "The key that signs the index, and how older ones lead to it")
def keys() -> Response:
    """Show the depot's public keys; a tablet keeps the first it met and follows hand-overs."""
    _index, key = _signed_index()
    response = jsonify(key.as_served())
    response.headers["Cache-Control"] = REVALIDATE
    return response


@blueprint.get("/api/proof")
@blueprint.takes(ProofIn, location="query")
@blueprint.answers(200, SignedOut)
def proof(asked: dict[str, Any]) -> dict[str, str]:
    """Prove to whoever asks that this is the depot, now, and which index stands."""
    found, key = _signed_index()
    return vars(service.prove(found, key, asked["n"], datetime.now(UTC)))


@blueprint.get("/packs/<string(length=64):sha>")
@blueprint.named("readPack")
@blueprint.also(200, PackOut, "The file, gzip as stored")
@blueprint.also(304, None, "Already there")
def pack_file(sha: str) -> Response:
    """Send one pack file or manifest; its name is its content, so it never changes."""
    with reading() as session:
        packed = in_use.served_file(session, sha)
    if packed is None:
        raise Problem(404, "no_such_file", "No published pack holds this file.")
    return answer(Stored("application/json", sha, packed), IMMUTABLE)


def _signed_index() -> tuple[service.Index, keys_.DepotKey]:
    """Return the newest index under the depot's key, signing it now where that is missing."""
    file = current_app.extensions["depot_key"]
    try:
        with reading() as session:
            found = service.current(session)
        key = file.load()
        if key is not None and found.serial == 0:
            return service.signed_empty(key), key
        if key is None or found.signature is None or found.signature.key_id != key.id:
            with writing() as session:
                found = service.ready(session, file, datetime.now(UTC))
            key = file.load()
    except (SettingsError, OSError) as error:
        current_app.logger.error("the index cannot be signed: %s", error)
        raise Problem(
            503, "signing_key", "The depot's signing key cannot be used; its log says why."
        ) from error
    return found, key
